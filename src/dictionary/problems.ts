/**
 * What is wrong in a dictionary beyond its shape: things that are each well formed and contradict each other. Problems are
 * data, with the path to the field in the spelling of the file, so that the build can point at line and column.
 */
import { FLAG, formatId, idKey, isPayloadLength, MAX_BASE_ID, MAX_EXTENDED_ID } from '../can/frame.ts';
import { type BitField, bytesNeeded, fieldBits, rawRange, sharedBits } from './bits.ts';
import { nextCounter } from './counter.ts';
import type { Check, Counter, Dictionary, Message, Signal } from './model.ts';

export interface DictionaryProblem {
  /** Keys and indices from the top of the file, as the file spells them: ['messages', 3, 'signals', 0, 'start']. */
  path: (string | number)[];
  found: string;
  expected: string;
}

type Path = DictionaryProblem['path'];
type Report = (path: Path, found: string, expected: string) => void;

/** All problems of a dictionary, in the order of the file; empty when there are none. */
export function dictionaryProblems(dictionary: Dictionary): DictionaryProblem[] {
  const problems: DictionaryProblem[] = [];
  const report: Report = (path, found, expected) => problems.push({ path, found, expected });
  const names = new Map<string, number>();
  const ids = new Map<number, string>();
  dictionary.messages.forEach((message, m) => {
    const at: Path = ['messages', m];
    const first = names.get(message.name);
    if (first !== undefined) {
      report([...at, 'name'], `"${message.name}", as in message ${first + 1}`, 'a name of its own');
    } else names.set(message.name, m);
    const key = idKey(message.id, message.extended ? FLAG.extended : 0);
    const owner = ids.get(key);
    if (owner !== undefined) {
      report(
        [...at, 'id'],
        `${formatId(message.id, message.extended)}, as in message ${owner}`,
        'an identifier that no other message of this bus has',
      );
    } else ids.set(key, message.name);
    messageProblems(message, at, report);
  });
  return problems;
}

function messageProblems(message: Message, at: Path, report: Report): void {
  const largest = message.extended ? MAX_EXTENDED_ID : MAX_BASE_ID;
  if (message.id > largest) {
    report(
      [...at, 'id'],
      `0x${message.id.toString(16).toUpperCase()}`,
      `0 to 0x${largest.toString(16).toUpperCase()}${message.extended ? '' : ', or extended: true'}`,
    );
  }
  if (!isPayloadLength(message.length, true)) {
    report([...at, 'length'], `${message.length}`, '0 to 8, or for CAN FD 12, 16, 20, 24, 32, 48 or 64');
  }
  placeProblems(message, at, report);
  const names = new Set<string>();
  message.signals.forEach((signal, s) => {
    const path = [...at, 'signals', s];
    if (names.has(signal.name)) {
      report(
        [...path, 'name'],
        `"${signal.name}", there twice in ${message.name}`,
        'a name of its own within the message',
      );
    }
    names.add(signal.name);
    signalProblems(message, signal, path, report);
  });
  if (message.counter) counterProblems(message.counter, [...at, 'counter'], report);
  if (message.check) checkProblems(message, message.check, [...at, 'check'], report);
}

interface Placed {
  name: string;
  field: BitField;
  selectorValue: number | null;
  path: Path;
}

/** Fields outside the payload, and fields that claim the same bits. */
function placeProblems(message: Message, at: Path, report: Report): void {
  const placed: Placed[] = [];
  for (const kind of ['selector', 'counter', 'check'] as const) {
    const field = message[kind];
    if (field) placed.push({ name: `the ${kind}`, field, selectorValue: null, path: [...at, kind] });
  }
  message.signals.forEach((signal, s) => {
    if (signal.state === 'rejected') return;
    const selectorValue = signal.selectorValue ?? null;
    placed.push({ name: signal.name, field: signal, selectorValue, path: [...at, 'signals', s] });
  });
  placed.forEach((one, index) => {
    const needed = bytesNeeded(one.field);
    if (needed > message.length) {
      report(
        [...one.path, 'start'],
        `${one.name} reaches byte ${needed - 1} (bits ${spans(fieldBits(one.field))})`,
        `bits within 0 to ${8 * message.length - 1}, the ${message.length} bytes of ${message.name}`,
      );
    }
    for (const other of placed.slice(0, index)) {
      const apart =
        one.selectorValue !== null &&
        other.selectorValue !== null &&
        one.selectorValue !== other.selectorValue;
      const shared = apart ? [] : sharedBits(one.field, other.field);
      if (shared.length > 0) {
        report(
          [...one.path, 'start'],
          `${one.name} claims ${shared.length === 1 ? 'bit' : 'bits'} ${spans(shared)} of ${other.name}`,
          'bits that no other field has, unless both have a selector_value and these differ',
        );
      }
    }
  });
}

function signalProblems(message: Message, signal: Signal, path: Path, report: Report): void {
  const { lo, hi } = rawRange(signal.length, signal.signed);
  if (signal.scale === 0) report([...path, 'scale'], '0', 'a number other than 0');
  if (signal.min !== undefined && signal.max !== undefined && signal.min > signal.max) {
    report([...path, 'min'], `min ${signal.min} above max ${signal.max}`, `${signal.max} or less`);
  }
  if (signal.signed === 'magnitude' && signal.length < 2) {
    report([...path, 'length'], '1 bit for sign and magnitude', '2 bits or more');
  }
  for (const raw of Object.keys(signal.values ?? {})) {
    if (Number(raw) < lo || Number(raw) > hi) {
      report([...path, 'values', raw], `raw value ${raw} in ${signal.length} bits`, `${lo} to ${hi}`);
    }
  }
  if (signal.selectorValue === undefined) return;
  const at = [...path, 'selector_value'];
  if (!message.selector) {
    report(at, `${signal.selectorValue}, but ${message.name} has no selector`, 'a selector in the message');
    return;
  }
  const most = 2 ** message.selector.length - 1;
  if (signal.selectorValue < 0 || signal.selectorValue > most) {
    report(at, `${signal.selectorValue}`, `0 to ${most}, what the selector can hold`);
  }
}

function counterProblems(counter: Counter, path: Path, report: Report): void {
  const size = 2 ** counter.length;
  if (counter.step % size === 0) {
    report(
      [...path, 'step'],
      `${counter.step}, with which the counter stands still`,
      `1 to ${size - 1}, or negative`,
    );
  }
  counter.skip.forEach((value, k) => {
    if (value < 0 || value >= size) report([...path, 'skip', k], `${value}`, `0 to ${size - 1}`);
  });
  const kept = Array.from({ length: size }, (_, v) => v).find((v) => !counter.skip.includes(v));
  if (kept === undefined || (counter.step % size !== 0 && nextCounter(counter, kept) === kept)) {
    report([...path, 'skip'], 'no value left to step to', 'at least two values that are not skipped');
  }
}

function checkProblems(message: Message, check: Check, path: Path, report: Report): void {
  check.covers.forEach((byte, k) => {
    if (byte >= message.length) {
      report(
        [...path, 'covers', k],
        `byte ${byte}`,
        `0 to ${message.length - 1}, the bytes of ${message.name}`,
      );
    }
  });
  if (check.covers.length === 0) {
    report([...path, 'covers'], 'no byte', 'at least one byte of the payload');
  }
  if (check.length > check.width) {
    report(
      [...path, 'length'],
      `${check.length} bits for a result of ${check.width}`,
      `${check.width} or less, or a greater width`,
    );
  }
  const most = 2 ** check.width - 1;
  for (const key of ['poly', 'init', 'xorout'] as const) {
    if (check[key] > most)
      report([...path, key], hex(check[key]), `0 to ${hex(most)} (width ${check.width})`);
  }
  if (check.algorithm === 'crc' && check.poly === 0) {
    report([...path, 'poly'], '0', 'the polynomial of the CRC');
  }
  const idBytes = message.extended ? 4 : 2;
  check.idBytes.forEach((byte, k) => {
    if (byte >= idBytes) {
      report([...path, 'id_bytes', k], `byte ${byte}`, `0 to ${idBytes - 1} for this identifier`);
    }
  });
  if (!check.perCounter) return;
  const at = [...path, 'per_counter'];
  if (!message.counter) {
    report(at, `constants, but ${message.name} has no counter`, 'a counter in the message');
    return;
  }
  const size = 2 ** message.counter.length;
  const skip = message.counter.skip;
  const highest = Array.from({ length: size }, (_, v) => v).findLast((v) => !skip.includes(v)) ?? size - 1;
  if (check.perCounter.length <= highest || check.perCounter.length > size) {
    report(
      at,
      `${check.perCounter.length} constants`,
      highest + 1 === size
        ? `${size}, one per counter value`
        : `${highest + 1} to ${size}, one per counter value`,
    );
  }
  check.perCounter.forEach((constant, k) => {
    if (constant > most) report([...at, k], hex(constant), `0 to ${hex(most)} (width ${check.width})`);
  });
}

function hex(value: number): string {
  return `0x${value.toString(16).toUpperCase()}`;
}

/** Bit numbers as spans: "4–7, 12". */
function spans(bits: number[]): string {
  const sorted = [...bits].sort((a, b) => a - b);
  const parts: string[] = [];
  for (let i = 0; i < sorted.length; ) {
    let j = i;
    while (sorted[j + 1] === (sorted[j] as number) + 1) j++;
    parts.push(i === j ? `${sorted[i]}` : `${sorted[i]}–${sorted[j]}`);
    i = j + 1;
  }
  return parts.join(', ');
}
