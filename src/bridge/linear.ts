/** round(factor × a + offset) in integers: one multiplication and one division, exact where the factor is a fraction. */
import { clamp } from '../logic/blocks.ts';
import type { ProgramBuilder } from '../logic/builder.ts';
import { INT_MAX, LogicError } from '../logic/error.ts';
import type { NodeId } from '../logic/form.ts';
import { usefulPart } from '../logic/ratio.ts';

/**
 * Nearest integer to factor × a + offset (halves up), kept within lo … hi; `linearError` tells how near.
 * Throws `LogicError` where 32 bits are not enough.
 */
export function linear(
  b: ProgramBuilder,
  a: NodeId,
  factor: number,
  offset: number,
  lo: number,
  hi: number,
): NodeId {
  const fraction = fractionFor(b.interval(a), factor, offset, lo, hi);
  if (!fraction)
    throw new LogicError(
      `scaling by ${factor} into ${lo} … ${hi} leaves 32 bits; a coarser unit for the result would do`,
    );
  const { num, den, add, base, part } = fraction;
  const operand = within(b, a, part.lo, part.hi);
  const slope = factor < 0 ? -num : num;
  const start = base - (factor < 0 ? part.hi : part.lo) * slope;
  const largest = Math.max(Math.abs(part.lo), Math.abs(part.hi)) * num;
  if (den === 1 && largest <= INT_MAX && Math.abs(start) <= INT_MAX) {
    return within(b, b.add(b.mulk(operand, slope), b.const(start)), lo, hi);
  }
  const distance = factor < 0 ? b.sub(b.const(part.hi), operand) : b.sub(operand, b.const(part.lo));
  const raised = b.add(b.mulk(distance, num), b.const(add));
  return within(b, b.add(b.divk(raised, den), b.const(base)), lo, hi);
}

/** zero + factor × a cut off towards `zero`, kept within lo … hi: what is sent is never more than what was allowed. */
export function towardsZero(
  b: ProgramBuilder,
  a: NodeId,
  factor: number,
  zero: number,
  lo: number,
  hi: number,
): NodeId {
  const size = b.abs(a);
  const most = Math.max(hi - zero, zero - lo, 0);
  const part = usefulPart(b.interval(size), Math.abs(factor), 0, 0, most);
  const { num, den } = fractionBelow(Math.abs(factor), part.hi);
  const whole = b.divk(b.mulk(within(b, size, 0, part.hi), num), den);
  if (b.interval(a).lo >= 0) {
    const value = factor < 0 ? b.sub(b.const(zero), whole) : b.add(b.const(zero), whole);
    return within(b, value, lo, hi);
  }
  const negative = b.lt(a, b.const(0));
  const up = b.add(b.const(zero), whole);
  const down = b.sub(b.const(zero), whole);
  return within(
    b,
    b.select(negative, ...(factor < 0 ? ([up, down] as const) : ([down, up] as const))),
    lo,
    hi,
  );
}

/** Greatest distance between `linear` and the exact value: ½ by rounding, and what 32 bits add; null where it cannot be computed. */
export function linearError(
  a: { lo: number; hi: number },
  factor: number,
  offset: number,
  lo: number,
  hi: number,
): number | null {
  const fraction = fractionFor(a, factor, offset, lo, hi);
  return fraction && 0.5 + fraction.error;
}

/** value = floor((d × num + add) / den) + base, d ≥ 0 the distance from the end of the interval where the value is least. */
interface Fraction {
  num: number;
  den: number;
  add: number;
  base: number;
  /** Greatest deviation from the exact value before rounding. */
  error: number;
}

/** Over the whole interval of the operand if that is as exact, else over the part of it that leads into lo … hi. */
function fractionFor(
  a: { lo: number; hi: number },
  factor: number,
  offset: number,
  lo: number,
  hi: number,
): (Fraction & { part: { lo: number; hi: number } }) | null {
  const useful = usefulPart(a, factor, offset, lo, hi);
  const [whole, part] = [bestFraction(factor, offset, a), bestFraction(factor, offset, useful)];
  if (whole && staysInside(whole, a) && whole.error <= (part?.error ?? 0)) return { ...whole, part: a };
  return part && { ...part, part: useful };
}

function staysInside(f: Fraction, a: { lo: number; hi: number }): boolean {
  const top = f.base + Math.floor(((a.hi - a.lo) * f.num + f.add) / f.den);
  return f.base >= -INT_MAX && top <= INT_MAX;
}

/**
 * Convergents of the factor's continued fraction are its best approximations with small denominators; the one that
 * deviates least among those that keep every operand within 31 bits, or the first that deviates by nothing.
 */
function bestFraction(factor: number, offset: number, a: { lo: number; hi: number }): Fraction | null {
  const span = a.hi - a.lo;
  const size = Math.abs(factor);
  const least = (factor < 0 ? a.hi : a.lo) * factor + offset;
  const whole = Math.floor(least + NEAR);
  const rest = Math.max(0, least - whole);
  const offsetDen = convergents(rest).find((c) => c.exact)?.den ?? 1;
  let best: Fraction | null = null;
  for (const c of convergents(size)) {
    for (const k of [offsetDen / gcd(c.den, offsetDen), 1]) {
      const [num, den] = [c.num * k, c.den * k];
      if (Math.max(1, span) * num + den > INT_MAX) continue;
      const start = Math.round(rest * den);
      const raised = start + Math.floor(den / 2);
      const step = Math.abs(rest - start / den);
      const error = (c.exact ? 0 : span * Math.abs(size - c.num / c.den)) + (step < NEAR ? 0 : step);
      const base = whole + Math.floor(raised / den);
      if (best === null || error < best.error) best = { num, den, add: raised % den, base, error };
    }
    if (best?.error === 0) break;
  }
  return best;
}

/** What a double may be off by after the few operations that lead here. */
const NEAR = 1e-9;

/** The largest fraction not above the factor, by mediants, whose product with `span` stays within 31 bits. */
function fractionBelow(factor: number, span: number): { num: number; den: number } {
  let below = { num: Math.floor(factor * (1 + 1e-12)), den: 1 };
  let above = { num: below.num + 1, den: 1 };
  while (factor - below.num / below.den > 1e-12 * factor) {
    const middle = { num: below.num + above.num, den: below.den + above.den };
    if (span * middle.num > INT_MAX || middle.den > MAX_DENOMINATOR) break;
    if (middle.num / middle.den <= factor * (1 + 1e-12)) below = middle;
    else above = middle;
  }
  return below;
}

/** Convergents of a value ≥ 0, up to the one that a double cannot tell from it. */
function convergents(value: number): { num: number; den: number; exact: boolean }[] {
  const list: { num: number; den: number; exact: boolean }[] = [];
  let [n0, d0, n1, d1] = [0, 1, 1, 0];
  for (let rest = value; list.length < 24; ) {
    const whole = Math.floor(rest);
    [n0, d0, n1, d1] = [n1, d1, whole * n1 + n0, whole * d1 + d0];
    if (d1 > MAX_DENOMINATOR || n1 > INT_MAX) break;
    const exact = Math.abs(n1 / d1 - value) <= 1e-12 * Math.max(value, 1e-3);
    list.push({ num: n1, den: d1, exact });
    if (exact || rest === whole) break;
    rest = 1 / (rest - whole);
  }
  return list;
}

const MAX_DENOMINATOR = 10_000_000;

function gcd(a: number, b: number): number {
  return b === 0 ? a : gcd(b, a % b);
}

function within(b: ProgramBuilder, a: NodeId, lo: number, hi: number): NodeId {
  const interval = b.interval(a);
  return interval.lo >= lo && interval.hi <= hi ? a : clamp(b, a, lo, hi);
}
