/** A check field whose constant is still open: what its solver found, and what is left in every frame beyond it. */
import { readBits } from '../can/bits.ts';
import { type CheckField, type CheckFunction, checkFunction } from '../can/check.ts';
import type { CrcSolution } from './crcSolve.ts';
import type { FoundCounter } from './model.ts';
import type { MessageRows } from './rows.ts';
import type { SumSolution } from './sumSolve.ts';

export interface OpenCheck {
  /** With start value, final constant and constants per counter value at zero. */
  field: CheckField;
  /** The counter whose value chooses the constant; null for one constant throughout. */
  counter: FoundCounter | null;
  /** Independent payload differences that agree, and the evidence in bits. */
  rank: number;
  bits: number;
  /** Other fields for which the same equation can be solved and that look as much like a check. */
  rivals?: CheckField[];
}

export function openCrc(solution: CrcSolution, counter: FoundCounter | null): OpenCheck {
  const { place, poly, reflected, covers, rank, bits } = solution;
  const { start, length, byteOrder } = place;
  const suffix = new Array<number>(solution.suffix).fill(0);
  const at = { start, length, byteOrder, width: length };
  const field = { ...EMPTY, ...at, algorithm: 'crc' as const, poly, reflected, covers, suffix };
  return { field, counter, rank, bits };
}

export function openSum(solution: SumSolution, counter: FoundCounter | null): OpenCheck {
  const { algorithm, place, covers, complemented, rank, bits } = solution;
  const { start, length, byteOrder } = place;
  const xorout = complemented ? maskOf(length) : 0;
  const field = { ...EMPTY, start, length, byteOrder, width: length, algorithm, covers, xorout };
  return { field, counter, rank, bits };
}

/**
 * Per frame, what the field holds beyond the model: exclusive-or of the two for CRCs and exclusive-or, difference for
 * sums, so that the true model gives the same number everywhere. Uint32Array[count].
 */
export function beyond(rows: MessageRows, field: CheckField): Uint32Array {
  const expected = checkFunction(field);
  const out = new Uint32Array(rows.count);
  for (let i = 0; i < rows.count; i++) out[i] = difference(rows, field, expected, i);
  return out;
}

/** The same for one frame. */
export function beyondIn(rows: MessageRows, field: CheckField, frame: number): number {
  return difference(rows, field, checkFunction(field), frame);
}

function difference(rows: MessageRows, field: CheckField, expected: CheckFunction, frame: number): number {
  const at = frame * rows.length;
  const held = readBits(rows.payload, at, field);
  const due = expected(rows.id, rows.payload, at, rows.length);
  if (field.algorithm === 'crc' || field.algorithm === 'xor') return (held ^ due) >>> 0;
  const mask = maskOf(field.length);
  // (init + S) ^ mask = mask − init − S: a complemented sum runs the other way.
  const sign = field.algorithm === 'nibbleSum' && field.xorout === mask ? -1 : 1;
  return ((sign * (held - due)) & mask) >>> 0;
}

function maskOf(bits: number): number {
  return 2 ** bits - 1;
}

/** The commonest value, and how many entries have it. */
export function commonest(values: ArrayLike<number>): { value: number; count: number } {
  const counts = new Map<number, number>();
  let best = { value: 0, count: 0 };
  for (let i = 0; i < values.length; ) {
    const value = values[i] as number;
    // One constant throughout is the usual case: a run is counted at once.
    let run = 1;
    while (i + run < values.length && values[i + run] === value) run++;
    i += run;
    const count = (counts.get(value) ?? 0) + run;
    counts.set(value, count);
    if (count > best.count) best = { value, count };
  }
  return best;
}

/** Frames of `rows` in which the finished check holds what it should. */
export function agreeing(rows: MessageRows, field: CheckField, counter: FoundCounter | null): number {
  const expected = checkFunction(field);
  let agree = 0;
  for (let i = 0; i < rows.count; i++) {
    const at = i * rows.length;
    const value = counter && field.perCounter ? readBits(rows.payload, at, counter) : undefined;
    if (expected(rows.id, rows.payload, at, rows.length, value) === readBits(rows.payload, at, field))
      agree++;
  }
  return agree;
}

const EMPTY: CheckField = {
  start: 0,
  length: 8,
  byteOrder: 'little',
  algorithm: 'crc',
  width: 8,
  poly: 0,
  init: 0,
  xorout: 0,
  reflected: false,
  covers: [],
  prefix: [],
  suffix: [],
  idBytes: [],
  perCounter: null,
};
