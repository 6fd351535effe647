/** What the gateway can read and write of a message, and one sentence for what it cannot. */
import { bytesNeeded, fieldBits, sharedBits } from '../can/bits.ts';
import { checkBytesNeeded } from '../can/check.ts';
import { isPayloadLength } from '../can/frame.ts';
import type { Message, Signal } from '../dictionary/model.ts';
import type { GatewayBus } from './gateway.ts';
import { believedRange } from './plan.ts';
import { type PlanProblem, refuse } from './problem.ts';

/** Longest field that stays inside 32-bit arithmetic with room for scaling. */
export const MAX_FIELD_BITS = 24;
/** Longest payload that a gateway hears or sends. */
export const MAX_PAYLOAD = 64;

/** Problems that keep a signal of a message from being read. */
export function readProblems(message: Message, signal: Signal, path: string): PlanProblem[] {
  return [
    ...protectionProblems(message, `${path}.message`),
    ...signalProblems(message, signal, `${path}.signal`),
  ];
}

/** Problems that keep a message from being written on a bus. */
export function writeProblems(message: Message, bus: GatewayBus | undefined, path: string): PlanProblem[] {
  const problems = protectionProblems(message, path);
  const fd = bus?.dataBitRateBps !== undefined;
  if (!isPayloadLength(message.length, fd)) {
    const right = fd
      ? '0 to 8, 12, 16, 20, 24, 32, 48 or 64 bytes'
      : `0 to 8 bytes (bus ${bus?.name} has no CAN FD)`;
    problems.push(refuse(path, `${message.name} has ${message.length} bytes`, right));
  }
  if (message.selector) {
    const right =
      'a message without a selector; writing several layouts under one identifier is not built yet';
    problems.push(refuse(path, `${message.name} has a selector`, right));
  }
  const { counter, check } = message;
  const constants = check?.perCounter?.length;
  if (counter && constants !== undefined) {
    const without = counterValues(counter).find((v) => v >= constants);
    if (without !== undefined) {
      const found = `the check field of ${message.name} has no constant for counter value ${without}`;
      problems.push(refuse(path, found, 'one constant for each value that the counter takes'));
    }
  }
  const signals = message.signals.filter((s) => s.state !== 'rejected');
  for (const signal of signals) problems.push(...signalProblems(message, signal, path));
  const fields = [
    ...signals,
    ...(counter ? [{ ...counter, name: 'the counter' }] : []),
    ...(check ? [{ ...check, name: 'the check field' }] : []),
  ];
  fields.forEach((field, i) => {
    for (const other of fields.slice(0, i)) {
      const bits = sharedBits(field, other);
      if (bits.length === 0) continue;
      const found = `${field.name} and ${other.name} of ${message.name} share bit ${bits[0]}`;
      problems.push(refuse(path, found, 'fields that do not overlap'));
    }
  });
  return problems;
}

function signalProblems(message: Message, signal: Signal, path: string): PlanProblem[] {
  const what = `${signal.name} of ${message.name}`;
  if (bytesNeeded(signal) > message.length) {
    const found = `${what} ends at bit ${Math.max(...fieldBits(signal))}`;
    return [refuse(path, found, `a field inside the ${8 * message.length} bits of the message`)];
  }
  if (signal.length > MAX_FIELD_BITS)
    return [refuse(path, `${what} has ${signal.length} bits`, `at most ${MAX_FIELD_BITS} bits`)];
  if (signal.scale === 0) return [refuse(path, `${what} has scale 0`, 'a scale other than 0')];
  const { rawLo, rawHi } = believedRange(signal);
  if (rawLo > rawHi) {
    const found = `${what} has min ${signal.min} and max ${signal.max}`;
    return [refuse(path, found, 'limits between which its bits hold at least one value')];
  }
  return [];
}

function protectionProblems(message: Message, path: string): PlanProblem[] {
  const problems: PlanProblem[] = [];
  const { counter, check } = message;
  const bits = 8 * message.length;
  if (message.length > MAX_PAYLOAD)
    problems.push(refuse(path, `${message.name} has ${message.length} bytes`, `at most ${MAX_PAYLOAD}`));
  if (counter) {
    const size = 2 ** counter.length;
    if (bytesNeeded(counter) > message.length)
      problems.push(
        refuse(path, `the counter of ${message.name} ends outside it`, `a field inside ${bits} bits`),
      );
    if (counterValues(counter).length < 3) {
      const found = `the counter of ${message.name} steps by ${counter.step} of ${size} and skips ${counter.skip.length}`;
      problems.push(refuse(path, found, 'a counter that takes at least three values'));
    }
  }
  if (!check) return problems;
  const name = `the check field of ${message.name}`;
  if (checkBytesNeeded(check) > message.length)
    problems.push(refuse(path, `${name} covers or ends outside it`, `bytes 0 to ${message.length - 1}`));
  if (check.algorithm === 'crc' ? check.width !== 8 && check.width !== 16 : check.width > 16) {
    const right =
      check.algorithm === 'crc' ? '8 or 16 bits; other widths are not built yet' : 'at most 16 bits';
    problems.push(refuse(path, `${name} is ${check.width} bits wide`, right));
  }
  if (check.length > 16) problems.push(refuse(path, `${name} has ${check.length} bits`, 'at most 16 bits'));
  if (check.perCounter) {
    const size = counter ? 2 ** counter.length : 0;
    if (!counter) {
      problems.push(
        refuse(path, `${name} has constants per counter value, the message no counter`, 'a counter'),
      );
    } else if (check.perCounter.length > size || size > 16) {
      const found = `${name} has ${check.perCounter.length} constants, its counter ${size} values`;
      problems.push(refuse(path, found, 'a counter of at most 4 bits and no more constants than values'));
    } else if (Math.max(0, ...check.perCounter) >= 2 ** check.width) {
      const found = `${name} has the constant ${Math.max(...check.perCounter)}`;
      problems.push(refuse(path, found, `constants below 2^${check.width}`));
    }
  }
  return problems;
}

/** The values that a counter takes in turn, from its first; a counter that leaves its own circle takes none. */
export function counterValues(counter: { length: number; step: number; skip: number[] }): number[] {
  const size = 2 ** counter.length;
  const skip = new Set(counter.skip);
  const values: number[] = [];
  const first = Array.from({ length: size }, (_, i) => i).find((v) => !skip.has(v));
  for (let v = first; v !== undefined && !values.includes(v); v = counterAfter(counter, v)) values.push(v);
  return values;
}

/** The value that follows `value`; undefined where the step only ever meets skipped values. */
export function counterAfter(
  counter: { length: number; step: number; skip: number[] },
  value: number,
): number | undefined {
  const size = 2 ** counter.length;
  const step = ((counter.step % size) + size) % size;
  let next = (value + step) % size;
  for (let tries = 0; tries < size; tries++) {
    if (!counter.skip.includes(next)) return next;
    next = (next + step) % size;
  }
  return undefined;
}
