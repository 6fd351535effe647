/**
 * What definitions from elsewhere would do to a dictionary: what they add, what they change, and where they contradict
 * entries that a person accepted. Those stand; nothing is ever taken away.
 */
import { formatId } from '../can/frame.ts';
import { sharedBits } from './bits.ts';
import { snakeKeys } from './case.ts';
import type { Dictionary, Message, Signal } from './model.ts';
import { same } from './same.ts';
import { sparseCheck, sparseCounter, sparseMessage, sparseSignal } from './sparse.ts';

export interface MergeItem {
  kind: 'added' | 'changed' | 'conflict';
  /** Name and identifier of the message. */
  message: string;
  /** Signal, or what of the message. */
  field: string;
  /** What would be written, or what stands against it. */
  text: string;
  /** Absent for conflicts: they are never written. */
  edit?: MergeEdit;
}

/** A change of the file, in its spelling. */
export interface MergeEdit {
  do: 'set' | 'append';
  path: (string | number)[];
  value: unknown;
}

export interface Merge {
  items: MergeItem[];
  /** Entries that are there already, as they would be written. */
  same: number;
}

/** Evidence, state and note are no part of a definition: they neither conflict nor count as a change. */
export function planMerge(current: Dictionary, incoming: Dictionary): Merge {
  const merge: Merge = { items: [], same: 0 };
  const names = new Map(current.messages.map((m) => [m.name, m]));
  for (const message of incoming.messages) {
    const at = current.messages.findIndex((m) => m.id === message.id && m.extended === message.extended);
    const own = current.messages[at];
    const label = `${message.name} (${formatId(message.id, message.extended)})`;
    if (own !== undefined) {
      mergeMessage(own, message, ['messages', at], label, merge);
      continue;
    }
    const other = names.get(message.name);
    if (other !== undefined) {
      const text = `the name is that of ${formatId(other.id, other.extended)}`;
      merge.items.push({ kind: 'conflict', message: label, field: 'name', text });
      continue;
    }
    names.set(message.name, message);
    const kinds = [message.counter && 'counter', message.check && 'check field'].filter(Boolean);
    const count = message.signals.length;
    const text = [`${count} signal${count === 1 ? '' : 's'}`, ...kinds].join(', ');
    const edit: MergeEdit = { do: 'append', path: ['messages'], value: sparseMessage(message) };
    merge.items.push({ kind: 'added', message: label, field: 'message', text, edit });
  }
  return merge;
}

function mergeMessage(
  own: Message,
  message: Message,
  at: (string | number)[],
  label: string,
  merge: Merge,
): void {
  const note = (kind: MergeItem['kind'], field: string, text: string, edit?: MergeEdit) =>
    merge.items.push({ kind, message: label, field, text, ...(edit && { edit }) });
  for (const [key, field] of [
    ['name', 'name'],
    ['length', 'length'],
    ['periodMs', 'period_ms'],
    ['sender', 'sender'],
  ] as const) {
    const [mine, theirs] = [own[key], message[key]];
    if (theirs === undefined || theirs === null) continue;
    if (mine === theirs) merge.same++;
    else if (mine === undefined || mine === null)
      note('added', field, `${theirs}`, { do: 'set', path: [...at, field], value: theirs });
    else note('conflict', field, `${mine} in the dictionary, ${theirs} in the file`);
  }
  for (const kind of ['selector', 'counter', 'check'] as const) {
    const [mine, theirs] = [own[kind], message[kind]];
    if (theirs === undefined) continue;
    if (mine !== undefined) {
      if (same(definition(mine), definition(theirs))) merge.same++;
      else note('conflict', kind, `${words(mine)} in the dictionary, ${words(theirs)} in the file`);
      continue;
    }
    const clash = standsOn(own, { ...theirs, name: kind });
    if (clash !== null) note('conflict', kind, clash);
    else {
      const value =
        kind === 'counter'
          ? sparseCounter(message.counter as NonNullable<Message['counter']>)
          : kind === 'check'
            ? sparseCheck(message.check as NonNullable<Message['check']>)
            : snakeKeys(theirs);
      note('added', kind, words(theirs), { do: 'set', path: [...at, kind], value });
    }
  }
  for (const signal of message.signals) mergeSignal(own, signal, at, note, merge);
}

type Note = (kind: MergeItem['kind'], field: string, text: string, edit?: MergeEdit) => void;

function mergeSignal(own: Message, signal: Signal, at: (string | number)[], note: Note, merge: Merge): void {
  const named = own.signals.findIndex((s) => s.name === signal.name);
  const placed = own.signals.findIndex((s) => samePlace(s, signal));
  const index = named >= 0 ? named : placed;
  const mine = own.signals[index];
  if (mine === undefined) {
    const clash = standsOn(own, signal);
    if (clash !== null) note('conflict', signal.name, clash);
    else
      note('added', signal.name, words(signal), {
        do: 'append',
        path: [...at, 'signals'],
        value: sparseSignal(signal),
      });
    return;
  }
  if (mine.state === 'rejected' && signal.state !== 'rejected') {
    note(
      'conflict',
      signal.name,
      `rejected in the dictionary as "${mine.name}"${mine.note ? ` (${mine.note})` : ''}`,
    );
    return;
  }
  // What a file does not say contradicts nothing, and takes nothing away.
  const said: Signal = {
    ...signal,
    unit: signal.unit || mine.unit,
    ...Object.fromEntries(
      (['min', 'max', 'values', 'note'] as const)
        .filter((key) => signal[key] === undefined && mine[key] !== undefined)
        .map((key) => [key, mine[key]]),
    ),
  };
  if (same(definition(mine), definition(said))) {
    merge.same++;
    return;
  }
  if (mine.state === 'accepted') {
    note('conflict', signal.name, differences(mine, said));
    return;
  }
  const rest = { ...own, signals: own.signals.filter((s) => s !== mine) };
  const clash = standsOn(rest, signal);
  if (clash !== null) note('conflict', signal.name, clash);
  else if (rest.signals.some((s) => s.name === signal.name))
    note('conflict', signal.name, 'a signal of this name is there already');
  else {
    const evidence = [...(mine.evidence ?? []), ...(signal.evidence ?? [])];
    const value = sparseSignal({ ...said, ...(evidence.length > 0 && { evidence }) });
    note('changed', signal.name, differences(mine, said), {
      do: 'set',
      path: [...at, 'signals', index],
      value,
    });
  }
}

function samePlace(a: Signal, b: Signal): boolean {
  return (
    a.start === b.start &&
    a.length === b.length &&
    a.byteOrder === b.byteOrder &&
    a.selectorValue === b.selectorValue
  );
}

/** What already has the bits, in words; null where they are free. */
function standsOn(own: Message, field: Placed): string | null {
  if (field.state === 'rejected') return null;
  const others: Placed[] = [
    ...(['selector', 'counter', 'check'] as const).flatMap((kind) =>
      own[kind] === undefined ? [] : [{ ...own[kind], name: `the ${kind}` }],
    ),
    ...own.signals.filter((s) => s.state !== 'rejected'),
  ];
  for (const other of others) {
    const apart =
      other.selectorValue !== undefined &&
      field.selectorValue !== undefined &&
      other.selectorValue !== field.selectorValue;
    if (apart) continue;
    const bits = sharedBits(other, field);
    if (bits.length > 0)
      return `it claims bit${bits.length === 1 ? '' : 's'} ${bits[0]}${bits.length > 1 ? ` to ${bits.at(-1)}` : ''} of ${other.name}`;
  }
  return null;
}

interface Placed {
  name: string;
  start: number;
  length: number;
  byteOrder: 'little' | 'big';
  selectorValue?: number | undefined;
  state?: string;
}

function definition(entry: object): Record<string, unknown> {
  const { evidence: _, state: __, note: ___, ...rest } = snakeKeys(entry) as Record<string, unknown>;
  return Object.fromEntries(Object.entries(rest).filter(([, value]) => value !== undefined));
}

function differences(mine: object, theirs: object): string {
  const [a, b] = [definition(mine), definition(theirs)];
  const keys = [...new Set([...Object.keys(a), ...Object.keys(b)])].filter((key) => !same(a[key], b[key]));
  return keys
    .map((key) => `${key} ${shown(a[key])} in the dictionary, ${shown(b[key])} in the file`)
    .join('; ');
}

function shown(value: unknown): string {
  const text = value === undefined ? 'none' : typeof value === 'string' ? value : JSON.stringify(value);
  return text.length > 60 ? `${text.slice(0, 59)}…` : text;
}

function words(field: object): string {
  const { start, length, byteOrder, scale, unit } = field as unknown as Signal;
  const physical = scale === undefined ? '' : ` × ${scale}${unit === '' ? '' : ` ${unit}`}`;
  return `${length} bits from ${start}, ${byteOrder}-endian${physical}`;
}
