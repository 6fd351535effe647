/** The fields of one message as a sheet shows them: what was found, joined with what the dictionary holds. */

import type { Dictionary, Message } from '../src/dictionary/model.ts';
import type { StripField } from '../src/dossier/figures/index.ts';
import { columnOf } from '../src/dossier/figures/payloadBits.ts';
import type { Evidence } from '../src/findings/model.ts';
import type {
  EntryPlace,
  FieldPlace,
  FindingKey,
  FindingState,
  FindingsMessageReply,
  RetestReply,
} from '../src/server/api.ts';
import { checkWords, counterWords, keyOf, scaleWords } from './words.ts';

export interface Field extends FieldPlace {
  /** Mark in the strip and in the table: "a", "b", … */
  mark: string;
  /** Empty where nobody has named it. */
  name: string;
  /** number, flag, enum, constant, counter, check, selector, padding; empty for a signal written by hand only. */
  kind: string;
  /** Scale and unit, or how a counter runs and a check is computed. */
  rule: string;
  signed: boolean | 'magnitude';
  scale: number;
  offset: number;
  unit: string;
  selectorValue: number | null;
  probability: number | null;
  state: FindingState;
  evidence: Evidence[];
  /** null where the dictionary has it and nothing was found there. */
  key: FindingKey | null;
  /** Where its signal stands in the dictionary; null where none does. */
  entry: EntryPlace | null;
  /** Least and greatest believed value of the entry. */
  min: number | null;
  max: number | null;
  /** Evidence that was kept when it was accepted or rejected, with the capture that it came from. */
  kept: { text: string; capture: string }[];
  /** What captures show against the entry, each a sentence. */
  contradictions: string[];
}

export type Contradictions = RetestReply['contradictions'];

type Signal = FindingsMessageReply['signals'][number];
type KnownSignal = Message['signals'][number];

/** Below this a field that nobody accepted is shown as undecided, and other cuts are shown beside it. */
export const DECIDED = 0.9;

export function fieldsOf(
  message: FindingsMessageReply,
  dictionary: Dictionary | null,
  contradictions: Contradictions = [],
): Field[] {
  const known = dictionary?.messages.find(
    (m) => m.id === Number.parseInt(message.id, 16) && Number(m.extended) === message.ext,
  );
  const fields = [
    // The selector has a row of its own.
    ...message.signals
      .filter(({ kind }) => kind !== 'selector' || message.selector === null)
      .map((signal) => ofSignal(message, signal, known)),
    ...ofOthers(message, known),
    ...byHand(message, known),
  ];
  const against = contradictions.filter(
    (c) => c.bus === message.busName && c.id === message.id && c.ext === message.ext,
  );
  return fields
    .map((field) => ({ ...field, contradictions: contradictionsOf(field, against) }))
    .sort(
      (a, b) =>
        columnOf(a.start, 'falling') - columnOf(b.start, 'falling') ||
        (a.selectorValue ?? -1) - (b.selectorValue ?? -1),
    )
    .map((field, i) => ({ ...field, mark: keyOf(i) }));
}

/** Sentences against an accepted field; those against the message as a whole stand with none of them. */
function contradictionsOf(field: Omit<Field, 'mark'>, against: Contradictions): string[] {
  if (field.state !== 'accepted') return [];
  const isCheck = field.kind === 'check' || field.kind === 'counter';
  return against
    .filter(
      ({ field: of, place }) =>
        (isCheck ? of === field.kind : of === 'signal') &&
        place?.start === field.start &&
        place.length === field.length &&
        place.selectorValue === field.selectorValue,
    )
    .map(({ text }) => text);
}

/** Fields as the payload strip takes them; rejected ones have no bracket. */
export function stripFields(fields: Field[]): StripField[] {
  return fields
    .filter((field) => field.state !== 'rejected')
    .map((field) => ({
      key: field.mark,
      label: labelOf(field),
      start: field.start,
      length: field.length,
      byteOrder: field.byteOrder,
      standing: standingOf(field),
    }));
}

/** Name with unit, or what kind of field it is. */
export function labelOf({ name, kind, unit, length, selectorValue }: Field): string {
  const behind = selectorValue === null ? '' : ` when ${selectorValue}`;
  if (name) return `${name}${unit ? `, ${unit}` : ''}${behind}`;
  return `${kind === 'number' ? `number of ${length} bits` : kind}${behind}`;
}

function standingOf({ state, kind, probability }: Field): StripField['standing'] {
  if (state === 'accepted') return 'accepted';
  if (kind === 'constant' || kind === 'padding' || (probability ?? 0) < DECIDED) return 'undecided';
  return 'found';
}

function ofSignal(message: FindingsMessageReply, signal: Signal, known: Message | undefined): Field {
  const kept = known?.signals.find((s) => samePlace(s, signal));
  const { scale, offset, unit } = kept ?? signal;
  return {
    ...place(signal),
    mark: '',
    name: kept && !isMadeUp(kept.name) ? kept.name : '',
    kind: signal.kind,
    rule: ruleOf(signal.kind, scale, offset, unit),
    signed: kept?.signed ?? signal.signed,
    scale,
    offset,
    unit,
    selectorValue: signal.selectorValue,
    probability: signal.probability,
    state: signal.state,
    evidence: signal.evidence,
    key: keyOfFinding(message, 'signal', signal, signal.selectorValue),
    ...ofEntry(message, kept),
  };
}

/** What the dictionary's signal adds to a field. */
function ofEntry(
  message: FindingsMessageReply,
  kept: KnownSignal | undefined,
): Pick<Field, 'entry' | 'min' | 'max' | 'kept' | 'contradictions'> {
  const entry = kept && {
    id: message.id,
    ext: message.ext,
    start: kept.start,
    length: kept.length,
    selectorValue: kept.selectorValue ?? null,
  };
  return {
    entry: entry ?? null,
    min: kept?.min ?? null,
    max: kept?.max ?? null,
    kept: keptOf(kept?.evidence),
    contradictions: [],
  };
}

function keptOf(evidence: KnownSignal['evidence']): Field['kept'] {
  return (evidence ?? []).map(({ text, capture }) => ({ text, capture: capture ?? '' }));
}

function ruleOf(kind: Signal['kind'], scale: number, offset: number, unit: string): string {
  if (kind === 'constant' || kind === 'padding') return 'never changed';
  if (scale !== 1 || offset !== 0 || unit) return scaleWords(scale, offset, unit);
  return kind === 'number' ? 'raw steps, no scale yet' : 'raw value';
}

function ofOthers(message: FindingsMessageReply, known: Message | undefined): Field[] {
  const { counter, check, selector } = message;
  // One that was turned down is kept as a signal.
  const entryOf = (at: FieldPlace) =>
    ofEntry(
      message,
      known?.signals.find((s) => isTurnedDown(s, at)),
    );
  const selects = message.signals.find(({ kind }) => kind === 'selector');
  const plain = {
    mark: '',
    name: '',
    signed: false,
    scale: 1,
    offset: 0,
    unit: '',
    selectorValue: null,
  } as const;
  return [
    counter && {
      ...plain,
      ...place(counter),
      kind: 'counter',
      rule: counterWords(counter),
      probability: counter.probability,
      state: counter.state,
      evidence: counter.evidence,
      key: keyOfFinding(message, 'counter', counter, null),
      ...entryOf(counter),
      ...(counter.state === 'accepted' && { kept: keptOf(known?.counter?.evidence) }),
    },
    check && {
      ...plain,
      ...place(check),
      kind: 'check',
      rule: checkWords(check),
      probability: check.probability,
      state: check.state,
      evidence: check.evidence,
      key: keyOfFinding(message, 'check', check, null),
      ...entryOf(check),
      ...(check.state === 'accepted' && { kept: keptOf(known?.check?.evidence) }),
    },
    selector && {
      ...plain,
      ...place(selector),
      kind: 'selector',
      rule: 'tells which fields follow',
      probability: selects?.probability ?? null,
      state: selector.state,
      evidence: selects?.evidence ?? [],
      key: keyOfFinding(message, 'selector', selector, null),
      ...entryOf(selector),
    },
  ].filter((field) => field !== null);
}

/** Signals that a person wrote into the dictionary where the findings see none. */
function byHand(message: FindingsMessageReply, known: Message | undefined): Field[] {
  const others = [message.counter, message.check, message.selector];
  return (known?.signals ?? [])
    .filter((signal) => !message.signals.some((found) => samePlace(signal, found)))
    .filter((signal) => !others.some((at) => at !== null && isTurnedDown(signal, at)))
    .map((signal) => ({
      ...place(signal),
      mark: '',
      // The name of a finding that nobody had named is made up.
      name: isMadeUp(signal.name) ? '' : signal.name,
      kind: signal.state === 'rejected' ? 'turned down' : '',
      rule: scaleWords(signal.scale, signal.offset, signal.unit),
      signed: signal.signed,
      scale: signal.scale,
      offset: signal.offset,
      unit: signal.unit,
      selectorValue: signal.selectorValue ?? null,
      probability: null,
      state: signal.state,
      evidence: [],
      key: null,
      ...ofEntry(message, signal),
    }));
}

/** The same as in the build's room, which pages cannot ask. */
function isMadeUp(name: string): boolean {
  return /^rejected_\d+_\d+(_\d+)?$/.test(name);
}

function isTurnedDown(signal: KnownSignal, at: FieldPlace): boolean {
  return signal.state === 'rejected' && signal.start === at.start && signal.length === at.length;
}

function samePlace(kept: KnownSignal, found: FieldPlace & { selectorValue: number | null }): boolean {
  return (
    kept.start === found.start &&
    kept.length === found.length &&
    (kept.length === 1 || kept.byteOrder === found.byteOrder) &&
    (kept.selectorValue ?? null) === found.selectorValue
  );
}

function place({ start, length, byteOrder }: FieldPlace): FieldPlace {
  return { start, length, byteOrder };
}

function keyOfFinding(
  message: FindingsMessageReply,
  field: FindingKey['field'],
  { start, length }: FieldPlace,
  selectorValue: number | null,
): FindingKey {
  return { id: message.id, ext: message.ext, field, start, length, selectorValue };
}
