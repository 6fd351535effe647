/**
 * Rolling counters of 2–16 bits at any alignment: fields that go on by the same step from frame to frame and roll over.
 *
 * How wide a counter is, is decided by counting: a bit above belongs to it when it costs less to explain it by the carry
 * than as a bit of its own. So a neighbour that stands still or moves by itself is never swallowed.
 */
import { type Fit, firstSteps, fitted, MOST_REPEATS, type Steps, stepsOf } from './counting.ts';
import type { FoundCounter } from './model.ts';
import type { MessageRows } from './rows.ts';
import { counted, several } from './words.ts';

export interface CounterOptions {
  /** Period of the message in seconds, null where it has none: with it, steps over lost frames are told from wrong ones. */
  periodS: number | null;
  /** 1 for bits that are explained otherwise, Uint8[8 × length]; no counter may touch them. */
  taken: Uint8Array;
}

/** Steps that must be seen before anything is called a counter. */
export const COUNTER_STEPS = 8;
const WIDEST = 16;
/** Share of steps that may be wrong (a restart of the sender, a frame that was damaged) before it is no counter. */
const WRONG_SHARE = 0.03;

/** All counters of a message, the one that explains most first; they do not overlap. */
export function findCounters(rows: MessageRows, options: CounterOptions): FoundCounter[] {
  const steps = stepsOf(rows, options.periodS);
  if (steps.to.length < COUNTER_STEPS) return [];
  const flips = flipCounts(rows, steps);
  const candidates = (['little', 'big'] as const).flatMap((order) => {
    const search = { rows, steps, flips, taken: options.taken, order };
    return candidatesOf(search, rows.count > LOOKED_AT ? promising(search) : null);
  });
  candidates.sort((a, b) => b.worth - a.worth);
  const used = options.taken.slice();
  const kept: Candidate[] = [];
  for (const candidate of candidates) {
    if (candidate.bits.some((bit) => used[bit] === 1) || pagesOnly(rows, candidate, options.taken)) continue;
    for (const bit of candidate.bits) used[bit] = 1;
    kept.push(candidate);
  }
  return kept.filter((one) => !kept.some((other) => sameShortCycle(one, other))).map(described);
}

/** Two narrow fields that come round together are bits of pages sent in turn; which of them counts cannot be told. */
function sameShortCycle(a: Candidate, b: Candidate): boolean {
  if (a === b || a.bits.length > NARROW || b.bits.length > NARROW) return false;
  return 2 ** a.bits.length * a.repeats === 2 ** b.bits.length * b.repeats;
}

const NARROW = 3;

/**
 * A field of two or three bits on which everything else that moves depends is the selector of pages sent in turn, or
 * any two bits of such pages, rather than a counter.
 */
function pagesOnly(rows: MessageRows, candidate: Candidate, taken: Uint8Array): boolean {
  if (candidate.bits.length > NARROW) return false;
  const own = new Set(candidate.bits);
  const { payload, length } = rows;
  const masks = new Uint8Array(length);
  for (let bit = 0; bit < 8 * length; bit++) {
    if (!own.has(bit) && !taken[bit]) masks[bit >> 3] = (masks[bit >> 3] as number) | (1 << (bit & 7));
  }
  const rest = (i: number) => {
    let key = '';
    for (let b = 0; b < length; b++)
      key += String.fromCharCode((payload[i * length + b] as number) & (masks[b] as number));
    return key;
  };
  const byValue = new Map<number, string>();
  const seen = new Set<string>();
  for (let i = 0; i < rows.count; i++) {
    let value = 0;
    candidate.bits.forEach((bit, place) => {
      value |= (((payload[i * length + (bit >> 3)] as number) >> (bit & 7)) & 1) << place;
    });
    const key = rest(i);
    seen.add(key);
    const before = byValue.get(value);
    if (before === undefined) byValue.set(value, key);
    else if (before !== key) return false;
  }
  return seen.size > 1;
}

interface Candidate extends Fit {
  order: 'little' | 'big';
  /** AUTOSAR numbers, least significant first. */
  bits: number[];
  worth: number;
}

function flipCounts(rows: MessageRows, steps: Steps): Uint32Array {
  const { payload, length } = rows;
  const flips = new Uint32Array(8 * length);
  for (const i of steps.to) {
    for (let b = 0; b < length; b++) {
      let changed = (payload[i * length + b] as number) ^ (payload[(i - 1) * length + b] as number);
      for (; changed !== 0; changed &= changed - 1) {
        const bit = 8 * b + 31 - Math.clz32(changed & -changed);
        flips[bit] = (flips[bit] as number) + 1;
      }
    }
  }
  return flips;
}

interface Search {
  rows: MessageRows;
  steps: Steps;
  flips: Uint32Array;
  taken: Uint8Array;
  order: 'little' | 'big';
}

/** In longer recordings the lowest bits that are worth a search over all frames are found in this many. */
const LOOKED_AT = 8192;

/** Lowest bits of fields that count in the first frames, rolled over or not. */
function promising(search: Search): Set<number> {
  const rows = { ...search.rows, count: LOOKED_AT };
  const steps = firstSteps(search.steps, LOOKED_AT);
  const part = { ...search, rows, steps, flips: flipCounts(rows, steps) };
  const lowest = new Set<number>();
  candidatesOf(part, null, (bit, fit) => {
    if (fit.wrong <= 3 * WRONG_SHARE * fit.steps) lowest.add(bit);
  });
  return lowest;
}

/** `only`: lowest bits to look at, all where null; `tell` hears of the best fit of each. */
function candidatesOf(
  { rows, steps, flips, taken, order }: Search,
  only: ReadonlySet<number> | null,
  tell?: (lowest: number, fit: Fit) => void,
): Candidate[] {
  const found: Candidate[] = [];
  const n = steps.to.length;
  for (let lowest = 0; lowest < 8 * rows.length; lowest++) {
    if (only && !only.has(lowest)) continue;
    // The lowest bit of a counter moves at every step, or once per repetition of a value.
    if (taken[lowest] || (flips[lowest] as number) < (0.7 * n) / MOST_REPEATS) continue;
    const bits = [lowest];
    const values = new Uint32Array(rows.count);
    addBit(values, rows, lowest, 0);
    let best: Candidate | null = null;
    let cheapest = Number.POSITIVE_INFINITY;
    let cheapestFit: Fit | null = null;
    let own = 0;
    for (let width = 2; width <= WIDEST; width++) {
      const next = bitAbove(bits[width - 2] as number, order, rows.length);
      if (next < 0 || taken[next] || flips[next] === 0) break;
      bits.push(next);
      addBit(values, rows, next, width - 1);
      own += flipCost(flips[next] as number, n);
      // Fields inside one byte are the same in both orders; they are weighed once.
      if (order === 'big' && next >> 3 === lowest >> 3) continue;
      const fit = fitted(values, width, steps);
      const cost = fit.wrong * (Math.log2(n) + width) + 2 * fit.bridged - own;
      if (cost >= cheapest) continue;
      cheapest = cost;
      cheapestFit = fit;
      best = believable(fit, width)
        ? { ...fit, order, bits: bits.slice(), worth: width * (fit.exact + fit.bridged - fit.wrong) }
        : null;
    }
    if (cheapestFit) tell?.(lowest, cheapestFit);
    if (best && !partOfMore(best, flips, rows.length)) found.push(best);
  }
  return found;
}

/** The upper bits of a counter whose lowest bit goes twice as fast, or the lower ones of a time that is longer still. */
function partOfMore(c: Candidate, flips: Uint32Array, length: number): boolean {
  const above = bitAbove(c.bits[c.bits.length - 1] as number, c.order, length);
  if (c.bits.length === WIDEST && above >= 0 && flips[above] !== 0) return true;
  const lowest = c.bits[0] as number;
  const below = (lowest & 7) > 0 ? lowest - 1 : c.order === 'little' ? lowest - 1 : lowest + 15;
  return c.repeats > 1 && below >= 0 && (flips[below] ?? 0) > 1.5 * (flips[lowest] as number);
}

/** The next higher bit of a field that grows in the given order; −1 beyond the payload. */
function bitAbove(bit: number, order: 'little' | 'big', length: number): number {
  if ((bit & 7) < 7) return bit + 1;
  const next = order === 'little' ? bit + 1 : bit - 15;
  return next >= 0 && next < 8 * length ? next : -1;
}

function addBit(values: Uint32Array, rows: MessageRows, bit: number, place: number): void {
  const { payload, length } = rows;
  const shift = bit & 7;
  for (let i = 0, at = bit >> 3; i < values.length; i++, at += length) {
    values[i] = (values[i] as number) | ((((payload[at] as number) >> shift) & 1) << place);
  }
}

/** Bits that it takes to say at which of n steps a bit of its own flips (Krichevsky–Trofimov estimate, 1981). */
function flipCost(flips: number, n: number): number {
  const p = (flips + 0.5) / (n + 1);
  return -flips * Math.log2(p) - (n - flips) * Math.log2(1 - p) + 0.5 * Math.log2(n + 1);
}

/** It must have rolled over: a field that only climbs may as well be a distance or a time. */
function believable(fit: Fit, width: number): boolean {
  if (fit.steps < COUNTER_STEPS || fit.rolls < 1 || (fit.repeats > 1 && width < 3)) return false;
  return (
    fit.wrong <= WRONG_SHARE * fit.steps &&
    fit.exact >= 0.6 * fit.steps &&
    (Math.abs(fit.step) === 1 || fit.rolls >= 3)
  );
}

function described(c: Candidate): FoundCounter {
  const parts = [
    `${counted(c.exact)} of ${several(c.steps, 'step')} go on by ${c.step}`,
    c.bridged > 0 ? `${several(c.bridged, 'step')} more fit lost frames` : '',
    c.wrong > 0 ? `${counted(c.wrong)} do not fit` : '',
    c.repeats > 1 ? `every value is sent ${c.repeats} times` : '',
    `rolled over ${several(c.rolls, 'time')}`,
    skipWords(c.skip, 2 ** c.bits.length),
  ];
  return {
    start: c.order === 'little' ? (c.bits[0] as number) : (c.bits[c.bits.length - 1] as number),
    length: c.bits.length,
    byteOrder: c.order,
    step: c.step,
    skip: c.skip,
    probability: confidence(c),
    evidence: [
      {
        text: `${parts.filter((part) => part !== '').join('; ')}.`,
        frames: c.steps,
        agree: c.exact + c.bridged,
      },
    ],
  };
}

/** "runs 0 … 14" where the ends are left out, "never 7" otherwise; empty where nothing is. */
function skipWords(skip: readonly number[], size: number): string {
  if (skip.length === 0) return '';
  const left = new Set(skip);
  let low = 0;
  while (left.has(low)) low++;
  let high = size - 1;
  while (left.has(high)) high--;
  return skip.length === size - 1 - (high - low) ? `runs ${low} … ${high}` : `never ${skip.join(', ')}`;
}

/** One doubt in ten before it has rolled over, halved by each roll, plus the share of steps that do not fit. */
export function confidence(c: Pick<Fit, 'rolls' | 'wrong' | 'steps'>): number {
  const doubt = 0.1 * 2 ** -Math.min(c.rolls, 10) + c.wrong / c.steps;
  return Math.max(0, 1 - doubt);
}
