/**
 * One counter that runs over the frames of several messages in turn: each message by itself steps by as many as were sent
 * between its frames, and put together in the order of time they go on one by one.
 */
import { type BitField, fieldReader } from '../can/bits.ts';
import { confidence } from './counter.ts';
import { type Fit, fitted, stepsOf } from './counting.ts';
import type { FoundCounter } from './model.ts';
import type { MessageRows } from './rows.ts';
import { counted, several } from './words.ts';

/** Frames of a message that are looked at, steps and rolls that it takes to believe anything. */
const LOOKED_AT = 2000;
const STEPS_NEEDED = 24;
const ROLLS_NEEDED = 3;
/** Share of steps that may not fit. */
const WRONG_SHARE = 0.03;
/** More candidates of one width than this are only tried all together. */
const MOST_IN_SUBSETS = 10;

/**
 * Counters shared by messages of one bus: per index into `messages` the counter, `sharedWith` naming the others. Messages
 * whose own counter goes on by one from frame to frame take no part.
 */
export function findSharedCounters(messages: readonly MessageRows[]): Map<number, FoundCounter> {
  const found = new Map<number, FoundCounter>();
  const pools = new Map<string, Candidate[]>();
  messages.forEach((rows, index) => {
    for (const candidate of candidatesOf(rows, index)) {
      const key = `${candidate.field.length} ${candidate.sign}`;
      pools.set(key, [...(pools.get(key) ?? []), candidate]);
    }
  });
  // A counter holds narrower ones: the widest is taken first.
  const widest = [...pools.values()].sort(
    (a, b) => (b[0] as Candidate).field.length - (a[0] as Candidate).field.length,
  );
  for (const pool of widest) {
    for (const group of groupsIn(pool)) {
      if (group.some(({ index }) => found.has(index))) continue;
      const fit = together(messages, group);
      if (!fit) continue;
      for (const one of group) found.set(one.index, described(messages, one, group, fit));
    }
  }
  return found;
}

interface Candidate {
  /** Index of the message. */
  index: number;
  field: BitField;
  sign: 1 | -1;
  /** Every step of this message by itself is the same. */
  even: boolean;
}

/** Fields of a message that always go on, by less than half a turn, and not by one throughout. */
function candidatesOf(rows: MessageRows, index: number): Candidate[] {
  const list: Candidate[] = [];
  if (rows.count < STEPS_NEEDED / 2) return list;
  for (const field of fieldsIn(rows.length)) {
    // Only the widest field at one lowest bit: the narrower ones count as well.
    if (list.some((c) => c.field.start === field.start && c.field.byteOrder === field.byteOrder)) continue;
    const gait = gaitOf(rows, field);
    if (gait) list.push({ index, field, ...gait });
  }
  return list;
}

/** Fields of 8 to 3 bits inside one byte, and of 16 bits in whole bytes; the widest first. */
function fieldsIn(length: number): BitField[] {
  const fields: BitField[] = [];
  for (let byte = 0; byte + 1 < length; byte++) {
    fields.push({ start: 8 * byte, length: 16, byteOrder: 'little' });
    fields.push({ start: 8 * byte + 7, length: 16, byteOrder: 'big' });
  }
  for (let width = 8; width >= 3; width--) {
    for (let start = 0; start < 8 * length; start++) {
      if ((start & 7) + width <= 8) fields.push({ start, length: width, byteOrder: 'little' });
    }
  }
  return fields;
}

function gaitOf(rows: MessageRows, field: BitField): { sign: 1 | -1; even: boolean } | null {
  const { payload, length, begins } = rows;
  const read = fieldReader({ ...field, signed: false });
  const size = 2 ** field.length;
  const n = Math.min(rows.count, LOOKED_AT);
  let steps = 0;
  let up = 0;
  let down = 0;
  let rolls = 0;
  let alike = 0;
  let usual = 0;
  for (let i = 1; i < n; i++) {
    if (begins[i]) continue;
    const was = read(payload, (i - 1) * length);
    const is = read(payload, i * length);
    const moved = (is - was + size) % size;
    steps++;
    if (moved === 0 || moved === size / 2) {
      if (steps > 32 && up + down < 0.9 * steps) return null;
      continue;
    }
    const rising = moved < size / 2;
    if (rising) up++;
    else down++;
    if (rising ? is < was : is > was) rolls++;
    if (usual === 0) usual = moved;
    if (moved === usual) alike++;
    if (steps > 32 && Math.min(up, down) > WRONG_SHARE * steps + 1) return null;
  }
  if (steps < STEPS_NEEDED / 2 || Math.max(up, down) < (1 - WRONG_SHARE) * steps || rolls < ROLLS_NEEDED) {
    return null;
  }
  if (countsAlone(rows, field, n)) return null;
  const even = alike >= (1 - WRONG_SHARE) * steps;
  const sign = up > down ? 1 : -1;
  return { sign, even };
}

/** Whether the field goes on by one from frame to frame of this message alone, values that it skips left out. */
function countsAlone(rows: MessageRows, field: BitField, frames: number): boolean {
  const read = fieldReader({ ...field, signed: false });
  const values = Uint32Array.from({ length: frames }, (_, i) => read(rows.payload, i * rows.length));
  const fit = fitted(values, field.length, stepsOf({ ...rows, count: frames }, null));
  return Math.abs(fit.step) === 1 && fit.wrong <= 2 * WRONG_SHARE * fit.steps;
}

/** Sets to be tried: all in one place, all, then triples and pairs. */
function groupsIn(pool: readonly Candidate[]): Candidate[][] {
  const groups: Candidate[][] = [];
  const places = new Map<string, Candidate[]>();
  for (const one of pool) {
    const key = `${one.field.start} ${one.field.byteOrder}`;
    places.set(key, [...(places.get(key) ?? []), one]);
  }
  groups.push(...places.values(), [...pool]);
  for (const some of [...places.values(), [...pool]]) {
    if (some.length > MOST_IN_SUBSETS) continue;
    for (let a = 0; a < some.length; a++) {
      for (let b = a + 1; b < some.length; b++) {
        for (let c = b + 1; c < some.length; c++) {
          groups.push([some[a], some[b], some[c]] as Candidate[]);
        }
        groups.push([some[a], some[b]] as Candidate[]);
      }
    }
  }
  return groups.filter((group) => {
    const messages = new Set(group.map(({ index }) => index));
    return messages.size > 1 && messages.size === group.length;
  });
}

/** How the fields of a group count when their frames are put in the order of time; null where they do not. */
function together(messages: readonly MessageRows[], group: readonly Candidate[]): Fit | null {
  const until = Math.min(
    ...group.map(({ index }) => {
      const { time, count } = messages[index] as MessageRows;
      return time[Math.min(count, LOOKED_AT) - 1] as number;
    }),
  );
  const frames: { time: number; value: number; begins: number }[] = [];
  for (const { index, field } of group) {
    const { time, payload, length, count, begins } = messages[index] as MessageRows;
    const read = fieldReader({ ...field, signed: false });
    for (let i = 0; i < count && (time[i] as number) <= until; i++) {
      // Frame 0 of a message begins no recording for the others.
      const starts = i > 0 ? (begins[i] as number) : 0;
      frames.push({ time: time[i] as number, value: read(payload, i * length), begins: starts });
    }
  }
  frames.sort((a, b) => a.time - b.time);
  const rows = {
    count: frames.length,
    time: Float64Array.from(frames, (f) => f.time),
    begins: Uint8Array.from(frames, (f) => f.begins),
  };
  const width = (group[0] as Candidate).field.length;
  const fit = fitted(
    Uint32Array.from(frames, (f) => f.value),
    width,
    stepsOf(rows, null),
  );
  const counts =
    Math.abs(fit.step) === 1 &&
    fit.repeats === 1 &&
    fit.steps >= STEPS_NEEDED &&
    fit.rolls >= ROLLS_NEEDED &&
    fit.wrong <= WRONG_SHARE * fit.steps;
  return counts ? fit : null;
}

/** Messages that take turns strictly look the same as messages that each count by themselves in fewer bits. */
const STRICT_TURNS = 0.8;

function described(
  messages: readonly MessageRows[],
  one: Candidate,
  group: readonly Candidate[],
  fit: Fit,
): FoundCounter {
  const others = group.filter((c) => c !== one).map(({ index }) => (messages[index] as MessageRows).id);
  const strict = group.every(({ even }) => even);
  const turns = strict
    ? ' They take turns without exception, so each may also count by itself, in fewer bits beside bits that stand still; record while one of them is missing.'
    : '';
  const { start, length, byteOrder } = one.field;
  return {
    start,
    length,
    byteOrder,
    step: fit.step,
    skip: fit.skip,
    sharedWith: others,
    probability: Math.min(confidence(fit), strict ? STRICT_TURNS : 1),
    evidence: [
      {
        text: `One counter over ${several(group.length, 'message')}: put together in the order of time, ${counted(fit.exact)} of ${several(fit.steps, 'step')} go on by ${fit.step}; rolled over ${several(fit.rolls, 'time')}.${turns}`,
        frames: fit.steps,
        agree: fit.exact + fit.bridged,
      },
    ],
  };
}
