/**
 * Rolling counters of 2–16 bits at any alignment: fields that go on by the same step from frame to frame and roll over.
 *
 * How wide a counter is, is decided by counting: a bit above belongs to it when it costs less to explain it by the carry
 * than as a bit of its own. So a neighbour that stands still or moves by itself is never swallowed.
 */
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
/** A value may be sent this many times in a row before the next. */
const MOST_REPEATS = 4;

/** A counter that skips values still runs through at least this many; shorter cycles are pages of a selector. */
const SHORTEST_CYCLE = 5;

/** All counters of a message, the one that explains most first; they do not overlap. */
export function findCounters(rows: MessageRows, options: CounterOptions): FoundCounter[] {
  const steps = stepsOf(rows, options.periodS);
  if (steps.to.length < COUNTER_STEPS) return [];
  const flips = flipCounts(rows, steps);
  const candidates = (['little', 'big'] as const).flatMap((order) =>
    candidatesOf(rows, steps, flips, options.taken, order),
  );
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

/** Frames that have a frame before them, and how many periods lie between the two (1 where the message has no period). */
interface Steps {
  to: Uint32Array;
  periods: Uint32Array;
}

interface Fit {
  step: number;
  /** Lowest and highest value of the cycle; the whole range of the field unless values are skipped. */
  low: number;
  high: number;
  steps: number;
  /** Steps that are exactly one. */
  exact: number;
  /** Steps over lost frames. */
  bridged: number;
  wrong: number;
  /** Times it rolled over as predicted. */
  rolls: number;
  repeats: number;
}

interface Candidate extends Fit {
  order: 'little' | 'big';
  /** AUTOSAR numbers, least significant first. */
  bits: number[];
  worth: number;
}

function stepsOf(rows: MessageRows, periodS: number | null): Steps {
  const to: number[] = [];
  const periods: number[] = [];
  for (let i = 1; i < rows.count; i++) {
    if (rows.begins[i]) continue;
    const gap = (rows.time[i] as number) - (rows.time[i - 1] as number);
    to.push(i);
    periods.push(periodS === null ? 1 : Math.max(1, Math.round(gap / periodS)));
  }
  return { to: Uint32Array.from(to), periods: Uint32Array.from(periods) };
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

function candidatesOf(
  rows: MessageRows,
  steps: Steps,
  flips: Uint32Array,
  taken: Uint8Array,
  order: 'little' | 'big',
): Candidate[] {
  const found: Candidate[] = [];
  const n = steps.to.length;
  for (let lowest = 0; lowest < 8 * rows.length; lowest++) {
    // The lowest bit of a counter moves at every step, or once per repetition of a value.
    if (taken[lowest] || (flips[lowest] as number) < (0.7 * n) / MOST_REPEATS) continue;
    const bits = [lowest];
    const values = new Uint32Array(rows.count);
    addBit(values, rows, lowest, 0);
    let best: Candidate | null = null;
    let cheapest = Number.POSITIVE_INFINITY;
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
      best = believable(fit, width)
        ? { ...fit, order, bits: bits.slice(), worth: width * (fit.exact + fit.bridged - fit.wrong) }
        : null;
    }
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

function fitted(values: Uint32Array, width: number, steps: Steps): Fit {
  const { step, share } = commonestStep(values, width, steps);
  if (share < LEAST_COMMON) return notCounting(steps.to.length);
  const repeats = repeatsOf(values, steps);
  const whole = counting(values, steps, { step, low: 0, high: 2 ** width - 1, repeats });
  if (whole.wrong === 0 || Math.abs(step) !== 1) return whole;
  let low = Number.POSITIVE_INFINITY;
  let high = 0;
  for (let i = 0; i < values.length; i++) {
    const v = values[i] as number;
    if (v < low) low = v;
    if (v > high) high = v;
  }
  const cycle = high - low + 1;
  const skipped = 2 ** width - cycle;
  if (skipped === 0 || cycle < SHORTEST_CYCLE || skipped > 0.4 * 2 ** width || (width > 8 && skipped > 16)) {
    return whole;
  }
  const short = counting(values, steps, { step, low, high, repeats });
  return short.wrong < whole.wrong ? short : whole;
}

/** Commonest nonzero step as a signed number, and its share among them, from up to some 256 steps. */
function commonestStep(values: Uint32Array, width: number, steps: Steps): { step: number; share: number } {
  const size = 2 ** width;
  const counts = new Map<number, number>();
  let best = 1;
  let most = 0;
  let all = 0;
  const stride = Math.max(1, Math.floor(steps.to.length / 256));
  for (let s = 0; s < steps.to.length; s += stride) {
    const i = steps.to[s] as number;
    const d = ((values[i] as number) - (values[i - 1] as number) + size) % size;
    if (d === 0 || (steps.periods[s] as number) > 1) continue;
    all++;
    const count = (counts.get(d) ?? 0) + 1;
    counts.set(d, count);
    if (count > most) {
      most = count;
      best = d;
    }
  }
  return { step: best > size / 2 ? best - size : best, share: all === 0 ? 0 : most / all };
}

/** A counter makes its step at least this often, also one that skips values. */
const LEAST_COMMON = 0.5;

function notCounting(steps: number): Fit {
  return { step: 0, low: 0, high: 0, steps, exact: 0, bridged: 0, wrong: steps, rolls: 0, repeats: 1 };
}

/** How many times in a row a value is sent before the next; 1 where that is not regular. */
function repeatsOf(values: Uint32Array, steps: Steps): number {
  const runs: number[] = [];
  let run = 1;
  for (const i of steps.to) {
    if (values[i] === values[i - 1]) run++;
    else {
      runs.push(run);
      run = 1;
    }
  }
  // The first run may have begun before the recording.
  const inside = runs.slice(1).sort((a, b) => a - b);
  const usual = inside[inside.length >> 1] ?? 1;
  if (usual === 1 || usual > MOST_REPEATS) return 1;
  const regular = inside.filter((length) => length === usual).length;
  return regular >= 0.9 * inside.length ? usual : 1;
}

function counting(
  values: Uint32Array,
  steps: Steps,
  model: { step: number; low: number; high: number; repeats: number },
): Fit {
  const { step, low, high, repeats } = model;
  const cycle = high - low + 1;
  const fit: Fit = { ...model, steps: 0, exact: 0, bridged: 0, wrong: 0, rolls: 0 };
  // A sender that stands still, as while it starts, is one wrong step however long it takes.
  let stood = false;
  for (let s = 0; s < steps.to.length; s++) {
    const i = steps.to[s] as number;
    const moved = (values[i] as number) - (values[i - 1] as number);
    const periods = steps.periods[s] as number;
    // After a long gap any value would fit: it says nothing either way.
    if (periods + 1 >= cycle / 2 && periods > 1) continue;
    const stands = moved === 0;
    if (stands && (repeats > 1 || stood)) continue;
    stood = stands;
    fit.steps++;
    const rolled = moved !== 0 && moved > 0 !== step > 0;
    if ((moved - step) % cycle === 0) {
      fit.exact++;
      if (rolled) fit.rolls++;
    } else if (fitsLost(moved, step, cycle, periods)) {
      fit.bridged++;
      if (rolled) fit.rolls++;
    } else fit.wrong++;
  }
  return fit;
}

/** Whether some of the frames due in `periods` periods being lost explains the step. */
function fitsLost(moved: number, step: number, cycle: number, periods: number): boolean {
  for (let lost = 2; periods > 1 && lost <= periods + 1; lost++) {
    if ((moved - lost * step) % cycle === 0) return true;
  }
  return false;
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
  const size = 2 ** c.bits.length;
  const skip: number[] = [];
  for (let v = 0; v < size; v++) if (v < c.low || v > c.high) skip.push(v);
  const parts = [
    `${counted(c.exact)} of ${several(c.steps, 'step')} go on by ${c.step}`,
    c.bridged > 0 ? `${several(c.bridged, 'step')} more fit lost frames` : '',
    c.wrong > 0 ? `${counted(c.wrong)} do not fit` : '',
    c.repeats > 1 ? `every value is sent ${c.repeats} times` : '',
    `rolled over ${several(c.rolls, 'time')}`,
    skip.length > 0 ? `runs ${c.low} … ${c.high}` : '',
  ];
  return {
    start: c.order === 'little' ? (c.bits[0] as number) : (c.bits[c.bits.length - 1] as number),
    length: c.bits.length,
    byteOrder: c.order,
    step: c.step,
    skip,
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

/** One doubt in ten before it has rolled over, halved by each roll, plus the share of steps that do not fit. */
function confidence(c: Candidate): number {
  const doubt = 0.1 * 2 ** -Math.min(c.rolls, 10) + c.wrong / c.steps;
  return Math.max(0, 1 - doubt);
}
