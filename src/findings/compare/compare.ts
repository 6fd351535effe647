/**
 * What differs between two recordings of a bus: messages that appeared or vanished, and periods, lengths, layouts, values,
 * counters and check fields that changed. Every difference carries the chance that unchanged traffic would show it, so
 * that a short recording, or one in which less was done, is not taken for a change.
 */

import { fieldBits } from '../../can/bits.ts';
import { groupByMessage } from '../../capture/select.ts';
import type { Capture } from '../../capture/store.ts';
import type { Findings, FoundMessage } from '../model.ts';
import { type MessageRows, messageRows, sessionsOf } from '../rows.ts';
import { counted, several } from '../words.ts';
import type { Comparison, Difference } from './model.ts';
import {
  bitsOf,
  checkAgrees,
  counterAgrees,
  explained,
  outside,
  STRETCHES,
  spreadOfSignal,
} from './payload.ts';
import { absenceChance, absenceWords, seenIn, tidy } from './presence.ts';

export interface Recording {
  capture: Capture;
  findings: Pick<Findings, 'messages' | 'frames' | 'seconds'>;
}

/** Chance of a false change anywhere in a comparison. */
const CHANCE = 0.05;

/** Holds `b` against `a`. @throws the reason of `signal` when it is aborted. */
export async function compareCaptures(
  a: Recording,
  b: Recording,
  options: { onProgress?: (share: number) => void; signal?: AbortSignal } = {},
): Promise<Comparison> {
  const steps = compareSteps(a, b);
  for (;;) {
    options.signal?.throwIfAborted();
    const step = steps.next();
    if (step.done) return step.value;
    options.onProgress?.(step.value);
    await new Promise((resolve) => setTimeout(resolve, 0));
  }
}

/** The same in steps; yields the share that is done. */
export function* compareSteps(a: Recording, b: Recording): Generator<number, Comparison> {
  const [inA, inB] = [byKey(a), byKey(b)];
  const keys = [...new Set([...inA.keys(), ...inB.keys()])];
  const differences: Difference[] = [];
  let tests = 0;
  let done = 0;
  for (const key of keys) {
    const one = inA.get(key);
    const other = inB.get(key);
    const found =
      one && other
        ? changes(one, other)
        : absent((one ?? other) as Side, one ? [a, b] : [b, a], one ? 'vanished' : 'appeared');
    tests += found.tests;
    differences.push(...found.differences);
    yield ++done / keys.length;
  }
  for (const d of differences) d.sure = d.chance * Math.max(1, tests) < CHANCE;
  differences.sort(
    (x, y) => Number(y.sure) - Number(x.sure) || ORDER.indexOf(x.kind) - ORDER.indexOf(y.kind),
  );
  const touched = new Set(differences.filter((d) => d.sure).map(keyOf));
  return {
    a: sizeOf(a),
    b: sizeOf(b),
    same: keys.filter((key) => inA.has(key) && inB.has(key) && !touched.has(key)).length,
    tests,
    differences,
  };
}

const ORDER: Difference['kind'][] = [
  'appeared',
  'vanished',
  'length',
  'timing',
  'check',
  'counter',
  'layout',
  'constant',
  'movement',
  'range',
];

interface Side {
  message: FoundMessage;
  rows: MessageRows;
}

function byKey({ capture, findings }: Recording): Map<string, Side> {
  const sessions = sessionsOf(capture);
  const messages = new Map(findings.messages.map((m) => [keyOf(m), m]));
  const sides = new Map<string, Side>();
  for (const group of groupByMessage(capture)) {
    const message = messages.get(keyOf(group));
    if (message) sides.set(keyOf(group), { message, rows: messageRows(capture, group, sessions) });
  }
  return sides;
}

interface Found {
  differences: Difference[];
  tests: number;
}

function absent(side: Side, [here, there]: [Recording, Recording], kind: 'appeared' | 'vanished'): Found {
  const names = kind === 'vanished' ? (['A', 'B'] as const) : (['B', 'A'] as const);
  const seen = seenIn(side.message, here.findings.seconds);
  const chance = absenceChance(seen, there.findings.seconds);
  const text = absenceWords(seen, there.findings.seconds, names);
  return { differences: [difference(side.message, kind, null, chance, text)], tests: 1 };
}

function changes(a: Side, b: Side): Found {
  const found = [lengths(a, b), timings(a, b), checks(a, b), counters(a, b)];
  if (a.rows.length === b.rows.length) found.push(bits(a, b), ranges(a, b), layouts(a, b));
  return {
    differences: found.flatMap((f) => f.differences),
    tests: found.reduce((sum, f) => sum + f.tests, 0),
  };
}

function lengths({ message: m, rows: a }: Side, { rows: b }: Side): Found {
  if (a.length === b.length) return { differences: [], tests: 1 };
  // Had lengths varied at random, the commonest of a handful of frames would say little.
  const chance = 0.5 ** (Math.min(a.count, b.count) - 1);
  const text = `${several(a.length, 'byte')} in A, ${b.length} in B (${counted(a.count)} and ${several(b.count, 'frame')})`;
  return { differences: [difference(m, 'length', null, chance, text)], tests: 1 };
}

/** Blocks of a recording whose rhythms say how much it varies by itself, and the least change of rate worth a word. */
const BLOCKS = 6;
const FASTER = 1.1;

function timings(a: Side, b: Side): Found {
  const [one, other] = [a.message, b.message];
  if (one.timing === 'tooFew' || other.timing === 'tooFew') return { differences: [], tests: 0 };
  const [inA, inB] = [gapsOf(a.rows), gapsOf(b.rows)];
  if (inA.length < BLOCKS || inB.length < BLOCKS) return { differences: [], tests: 0 };
  const ratio = mean(inB) / mean(inA);
  if (ratio < FASTER && ratio > 1 / FASTER) return { differences: [], tests: 1 };
  const error = Math.hypot(deviation(inA), deviation(inB)) / Math.sqrt(BLOCKS) + 0.005 * mean(inA);
  const z = (mean(inB) - mean(inA)) / error;
  // Tail of Student's t with 2 × (blocks − 1) degrees of freedom, but for a factor near 1.
  const freedom = 2 * (BLOCKS - 1);
  const chance = (1 + (z * z) / freedom) ** (-(freedom + 1) / 2);
  const text = `one frame every ${tidy(1000 * mean(inA))} ms in A (${timingWords(one)}), every ${tidy(1000 * mean(inB))} ms in B (${timingWords(other)})`;
  return { differences: [difference(one, 'timing', null, chance, text)], tests: 1 };
}

function timingWords({ timing }: FoundMessage): string {
  return {
    periodic: 'periodic',
    onChange: 'on change',
    mixed: 'periodic and on change',
    burst: 'in bursts',
    tooFew: 'few',
  }[timing];
}

/** Mean gap of each block of frames, seconds; gaps over breaks of the recording left out. */
function gapsOf({ time, begins, count }: MessageRows): number[] {
  const blocks: number[] = [];
  for (let k = 0; k < BLOCKS; k++) {
    let sum = 0;
    let n = 0;
    for (
      let i = 1 + Math.floor((k * (count - 1)) / BLOCKS);
      i <= Math.floor(((k + 1) * (count - 1)) / BLOCKS);
      i++
    ) {
      if (begins[i]) continue;
      sum += (time[i] as number) - (time[i - 1] as number);
      n++;
    }
    if (n > 0) blocks.push(sum / n);
  }
  return blocks;
}

function mean(values: readonly number[]): number {
  return values.reduce((sum, v) => sum + v, 0) / values.length;
}

function deviation(values: readonly number[]): number {
  const m = mean(values);
  return Math.sqrt(values.reduce((sum, v) => sum + (v - m) ** 2, 0) / (values.length - 1));
}

/** The check of either held against the frames of the other: agreement by accident has a chance of 2^−bits a frame. */
function checks(a: Side, b: Side): Found {
  const differences: Difference[] = [];
  let tests = 0;
  for (const [own, other, names] of [
    [a, b, ['A', 'B']],
    [b, a, ['B', 'A']],
  ] as const) {
    const { check, counter } = own.message;
    if (!check || check.probability < 0.9 || other.rows.length !== own.rows.length || other.rows.count === 0)
      continue;
    tests++;
    const { agree, looked } = checkAgrees(other.rows, check, counter);
    if (agree >= 0.5 * looked) continue;
    const place = { start: check.start, length: check.length };
    const text = `the check field of ${names[0]} holds in ${counted(agree)} of ${several(looked, 'frame')} of ${names[1]}${
      other.message.check ? ', which has another' : ''
    }`;
    // Even a faulty recorder damages few frames: a tenth of them is far more than any does.
    differences.push(difference(own.message, 'check', place, 0.1 ** (looked - agree), text));
    break;
  }
  return { differences, tests };
}

function counters(a: Side, b: Side): Found {
  const differences: Difference[] = [];
  let tests = 0;
  for (const [own, other, names] of [
    [a, b, ['A', 'B']],
    [b, a, ['B', 'A']],
  ] as const) {
    const { counter } = own.message;
    if (!counter || counter.probability < 0.9 || other.rows.length !== own.rows.length) continue;
    tests++;
    const { agree, looked } = counterAgrees(other.rows, counter);
    if (looked === 0 || agree >= 0.5 * looked) continue;
    const place = { start: counter.start, length: counter.length };
    const text = `the counter of ${names[0]} counts on in ${counted(agree)} of ${several(looked, 'step')} of ${names[1]}`;
    differences.push(difference(own.message, 'counter', place, 0.3 ** (looked - agree), text));
    break;
  }
  return { differences, tests };
}

/**
 * Bits that stand still in both at different values, and bits that move in one only. The bits of numbers that move in both are
 * left to their ranges.
 */
function bits(a: Side, b: Side): Found {
  const skip = new Set([
    ...explained(a.message.counter, a.message.check),
    ...explained(b.message.counter, b.message.check),
    ...numbers(a.message),
    ...numbers(b.message),
  ]);
  const [inA, inB] = [bitsOf(a.rows), bitsOf(b.rows)];
  const set: number[] = [];
  const moving: { A: number[]; B: number[] } = { A: [], B: [] };
  for (let bit = 0; bit < 8 * a.rows.length; bit++) {
    if (skip.has(bit)) continue;
    const ca = inA.stretches[bit] as number;
    const cb = inB.stretches[bit] as number;
    if (ca === 0 && cb === 0 && inA.first[bit] !== inB.first[bit]) set.push(bit);
    if (ca > 0 && cb === 0) moving.A.push(bit);
    if (cb > 0 && ca === 0) moving.B.push(bit);
  }
  const differences: Difference[] = [];
  // A bit at rest was seen once only, however many frames repeat it: chance says nothing about it.
  for (const part of runs(set)) {
    const text = `${bitWords(part)} ${part.length === 1 ? 'stands' : 'stand'} at another value throughout: a state or a coding; record both in the same state to tell`;
    differences.push(difference(a.message, 'constant', part, 1, text));
  }
  for (const name of ['A', 'B'] as const) {
    const [own, other, there] = name === 'A' ? [a, b, 'B'] : [b, a, 'A'];
    const { stretches } = name === 'A' ? inA : inB;
    for (const part of runs(moving[name])) {
      const most = Math.max(...stretches.subarray(part.start, part.start + part.length));
      // Had it gone on like that, each stretch of the other recording would have missed it (rule of succession).
      const chance =
        ((STRETCHES - most + 1) / (STRETCHES + 2)) ** (STRETCHES * (other.rows.count / own.rows.count));
      const text = `${bitWords(part)} ${part.length === 1 ? 'changes' : 'change'} in ${most} of ${STRETCHES} stretches of ${name} and never in ${several(other.rows.count, 'frame')} of ${there}`;
      differences.push(difference(a.message, 'movement', part, chance, text));
    }
  }
  return { differences, tests: differences.length };
}

function numbers({ signals }: FoundMessage): number[] {
  return signals.filter((s) => s.kind === 'number' && s.length >= 3).flatMap((s) => fieldBits(s));
}

/** Values outside the range of the other recording, where that went through its own range often enough. */
function ranges(a: Side, b: Side): Found {
  const differences: Difference[] = [];
  let tests = 0;
  for (const signal of a.message.signals) {
    if (
      signal.kind !== 'number' ||
      signal.length < 3 ||
      signal.probability < 0.5 ||
      signal.selectorValue !== null
    )
      continue;
    const [inA, inB] = [spreadOfSignal(a.rows, signal), spreadOfSignal(b.rows, signal)];
    if (inA.low === inA.high || inB.low === inB.high) continue;
    tests++;
    for (const [own, rows, names] of [
      [inA, b.rows, ['A', 'B']],
      [inB, a.rows, ['B', 'A']],
    ] as const) {
      const { visits, share } = outside(rows, signal, own);
      const beyond = own === inA ? inB : inA;
      const wider = (beyond.high - beyond.low) / (own.high - own.low);
      if (visits === 0 || wider < 1.3) continue;
      // Had the other recording gone there as often, it would have missed it in all its own visits.
      const chance = (1 - Math.min(0.8, share)) ** (own.journeys / 2);
      const text = `${signal.length} bits at ${signal.start} run from ${beyond.low} to ${beyond.high} in ${names[1]}, from ${own.low} to ${own.high} in ${names[0]} (${several(own.journeys, 'journey')} through it)`;
      differences.push(difference(a.message, 'range', place(signal), chance, text));
      break;
    }
  }
  return { differences, tests };
}

/** Fields of both cuts that overlap and do not agree, both of them likely. */
function layouts(a: Side, b: Side): Found {
  const likely = (m: FoundMessage) =>
    m.signals.filter(
      (s) => s.kind === 'number' && s.length >= 4 && s.probability >= 0.85 && s.selectorValue === null,
    );
  const differences: Difference[] = [];
  let tests = 0;
  for (const one of likely(a.message)) {
    for (const other of likely(b.message)) {
      const same = one.start === other.start && one.byteOrder === other.byteOrder;
      if (same || one.byteOrder !== other.byteOrder) continue;
      const touch =
        one.byteOrder === 'little' &&
        one.start < other.start + other.length &&
        other.start < one.start + one.length;
      if (!touch) continue;
      tests++;
      const chance = 1 - one.probability * other.probability;
      const text = `cut as ${one.length} bits at ${one.start} in A, as ${other.length} bits at ${other.start} in B`;
      differences.push(difference(a.message, 'layout', place(one), chance, text));
    }
  }
  return { differences, tests };
}

function place({ start, length }: { start: number; length: number }) {
  return { start, length };
}

function runs(list: readonly number[]): { start: number; length: number }[] {
  const parts: { start: number; length: number }[] = [];
  for (const bit of list) {
    const last = parts.at(-1);
    // Neighbours of one byte belong together; bytes are told apart, as their order is not known here.
    if (last && last.start + last.length === bit && bit % 8 !== 0) last.length++;
    else parts.push({ start: bit, length: 1 });
  }
  return parts;
}

function bitWords({ start, length }: { start: number; length: number }): string {
  return length === 1 ? `bit ${start}` : `bits ${start}–${start + length - 1}`;
}

function difference(
  { bus, id, extended }: FoundMessage,
  kind: Difference['kind'],
  at: Difference['place'],
  chance: number,
  text: string,
): Difference {
  return { bus, id, extended, kind, place: at, chance, sure: false, text };
}

function sizeOf({ findings }: Recording): Comparison['a'] {
  return { frames: findings.frames, seconds: findings.seconds, messages: findings.messages.length };
}

function keyOf({ bus, id, extended }: { bus: number; id: number; extended: boolean }): string {
  return `${bus} ${extended ? 'x' : ''}${id}`;
}
