/** Scaling by a real factor with integers only: one multiplication and one division by a power of two. */
import { clamp } from './blocks.ts';
import type { ProgramBuilder } from './builder.ts';
import { INT_MAX, LogicError } from './error.ts';
import type { NodeId } from './form.ts';

/** value ≈ floor((d × m + c) / 2^shift) + base, with d = a − aLo (m from a positive factor) or aHi − a (from a negative one), d ≥ 0. */
export interface Ratio {
  m: number;
  shift: number;
  c: number;
  base: number;
  /** Greatest distance between the result and the exact factor × a + offset: ½ by rounding plus what the approximation adds. */
  errorMax: number;
}

/**
 * The smallest shift for which the approximation adds at most 1/256 of a unit, else the one that adds least, such that
 * everything stays within 31 bits. Null if not even shift 0 does.
 */
export function ratioFor(a: { lo: number; hi: number }, factor: number, offset: number): Ratio | null {
  const span = a.hi - a.lo;
  const zero = (factor < 0 ? a.hi : a.lo) * factor + offset + 0.5;
  let best: Ratio | null = null;
  for (let shift = 0; shift <= 30; shift++) {
    const scale = 2 ** shift;
    const m = Math.round(Math.abs(factor) * scale);
    const base = Math.floor(zero);
    const c = Math.min(scale - 1, Math.round((zero - base) * scale));
    if (span * m + c > INT_MAX) break;
    const added = span * Math.abs(Math.abs(factor) - m / scale) + Math.abs(zero - base - c / scale);
    if (best === null || 0.5 + added < best.errorMax) best = { m, shift, c, base, errorMax: 0.5 + added };
    if (added <= 1 / 256) break;
  }
  return best;
}

/**
 * round(factor × a + offset), kept within lo … hi. Rounds halves up; differs from the exact value by at most the
 * `errorMax` of `ratioFor` over the part of a's interval that leads into lo … hi. Throws `LogicError` if the factor is
 * too large for 32-bit arithmetic over that part.
 */
export function scaleRatio(
  b: ProgramBuilder,
  a: NodeId,
  factor: number,
  offset: number,
  lo: number,
  hi: number,
): NodeId {
  if (!Number.isFinite(factor) || !Number.isFinite(offset))
    throw new LogicError(`scaling by ${factor} with offset ${offset}: both must be finite numbers`);
  const useful = usefulPart(b.interval(a), factor, offset, lo, hi);
  const operand = within(b, a, useful.lo, useful.hi);
  const ratio = ratioFor(useful, factor, offset);
  if (ratio === null)
    throw new LogicError(
      `scaling ${useful.lo} … ${useful.hi} by ${factor} with offset ${offset} leaves 32 bits; use a coarser unit for the result`,
    );
  const distance = factor < 0 ? b.sub(b.const(useful.hi), operand) : b.sub(operand, b.const(useful.lo));
  const raised = b.add(b.mulk(distance, ratio.m), b.const(ratio.c));
  return within(b, b.add(b.divk(raised, 2 ** ratio.shift), b.const(ratio.base)), lo, hi);
}

/** The part of an interval that is scaled into lo … hi or less than one unit beside it; one end of the interval if none is. */
export function usefulPart(
  a: { lo: number; hi: number },
  factor: number,
  offset: number,
  lo: number,
  hi: number,
): { lo: number; hi: number } {
  const ends =
    factor === 0
      ? [a.lo, a.lo]
      : [(lo - 1 - offset) / factor, (hi + 1 - offset) / factor].sort((p, q) => p - q);
  const inside = (v: number) => Math.min(a.hi, Math.max(a.lo, v));
  return { lo: inside(Math.floor(ends[0] as number)), hi: inside(Math.ceil(ends[1] as number)) };
}

function within(b: ProgramBuilder, a: NodeId, lo: number, hi: number): NodeId {
  const interval = b.interval(a);
  return interval.lo >= lo && interval.hi <= hi ? a : clamp(b, a, lo, hi);
}
