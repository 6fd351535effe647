/**
 * What it costs, in nats, to tell the values of one candidate field frame by frame under different ideas of what it is.
 * All codes are adaptive: they learn their probabilities from the values themselves (Krichevsky–Trofimov and Dirichlet
 * estimators in closed form), so no code has a parameter that could be tuned to a recording.
 */
import { ClassCode, FIRST, kt, LN2, NOT_AVAILABLE } from './classCode.ts';
import { levelsCost } from './levels.ts';
import { type GammaTables, gammaTables } from './logGamma.ts';

/** Values of one candidate over the frames looked at. */
export interface Series {
  /** Unsigned values, Uint32[n]. */
  values: Uint32Array;
  /** 1 where predictors start anew. */
  begins: Uint8Array;
  /** The same values as running numbers 0 … distinct − 1. */
  ranks: Uint16Array;
  distinct: number;
  /** Bits from the lowest to the highest, and those of them that move. */
  width: number;
  active: number;
}

export interface CodeLengths {
  enumeration: number;
  /** Best unsigned and signed number code. */
  unsigned: number;
  signed: number;
  /** Best code for a sign in the top bit and a magnitude below it. */
  magnitude: number;
  modular: number;
  uniform: number;
  counter: number;
  levels: number;
  /** Cheaper of the two codes that predict along a line. */
  line: number;
  distinct: number;
  /** Frames where the value changes; of these, jumps over half the range; others in which the top bit flips. */
  changes: number;
  wraps: number;
  middles: number;
  /** Of the jumps, those that are short steps the other way round; flips of the top bit with little below it on both sides. */
  shortWraps: number;
  topFlips: number;
  shortTopFlips: number;
}

export function codeLengths(series: Series): CodeLengths {
  const n = series.values.length;
  const tables = gammaTables(n + 64);
  const uniform = n * series.active * LN2;
  const motion = motionOf(series);
  const out: CodeLengths = {
    enumeration: enumerationCost(series, tables),
    unsigned: Number.POSITIVE_INFINITY,
    signed: Number.POSITIVE_INFINITY,
    magnitude: Number.POSITIVE_INFINITY,
    modular: Number.POSITIVE_INFINITY,
    uniform,
    counter: counterCost(series, tables),
    levels: Number.POSITIVE_INFINITY,
    line: Number.POSITIVE_INFINITY,
    distinct: series.distinct,
    ...motion,
  };
  if (series.width < 3) return out;
  const unsigned = numberCosts(series, tables, 'unsigned');
  const signed = numberCosts(series, tables, 'signed');
  out.unsigned = Math.min(...unsigned);
  out.signed = Math.min(...signed);
  if (series.width >= 4) out.magnitude = Math.min(...numberCosts(series, tables, 'magnitude'));
  out.line = Math.min(unsigned[1] as number, signed[1] as number);
  out.modular = modularCost(series, tables);
  const signedLevels = (signed[0] as number) < (unsigned[0] as number) - 2;
  out.levels = levelsCost(series, tables, signedLevels ? 'signed' : 'unsigned');
  return out;
}

const MOST_ENUM = 48;
const PREDICTORS = 4;

const enumCounts = new Uint32Array(MOST_ENUM * MOST_ENUM);

/** Per value before: stay or change, and on a change which of the others comes. */
function enumerationCost(s: Series, t: GammaTables): number {
  const k = s.distinct;
  if (k > MOST_ENUM) return Number.POSITIVE_INFINITY;
  const counts = enumCounts.fill(0, 0, k * k);
  let cost = k * s.active * LN2;
  for (let i = 0; i < s.ranks.length; i++) {
    if (s.begins[i]) {
      cost += Math.log(k);
      continue;
    }
    const at = (s.ranks[i - 1] as number) * k + (s.ranks[i] as number);
    counts[at] = (counts[at] as number) + 1;
  }
  for (let from = 0; from < k; from++) {
    const stay = counts[from * k + from] as number;
    let change = 0;
    let others = 0;
    for (let to = 0; to < k; to++) {
      if (to === from) continue;
      const count = counts[from * k + to] as number;
      change += count;
      others += (t.half[count] as number) - (t.half[0] as number);
    }
    if (stay + change === 0) continue;
    cost += kt(t, stay, change);
    if (k > 2) cost += halves(t, change, k - 1) - others;
  }
  return cost;
}

/** ln Γ(count + k/2) − ln Γ(k/2). */
function halves(t: GammaTables, count: number, k: number): number {
  const table = k % 2 === 0 ? t.one : t.half;
  const at = k % 2 === 0 ? k / 2 - 1 : (k - 1) / 2;
  return (table[count + at] as number) - (table[at] as number);
}

const codes = Array.from({ length: PREDICTORS }, () => new ClassCode());

/** Number codes with four predictors: last value, along a line, running mean of 4 and of 32 frames. */
function numberCosts(s: Series, t: GammaTables, sign: 'unsigned' | 'signed' | 'magnitude'): number[] {
  const [last, line, quick, slow] = codes as [ClassCode, ClassCode, ClassCode, ClassCode];
  for (const code of codes) code.clear();
  const size = 2 ** s.width;
  const fold = sign === 'unsigned' ? size : size / 2;
  // What a set top bit takes off: in two's complement the value less the size, else the magnitude below zero.
  const mirror = sign === 'magnitude';
  // All ones, or the largest signed number, is the usual way to say "not available".
  const missing = s.width < 4 ? -1 : mirror ? size - 1 : fold - 1;
  let valid = false;
  let previous = 0;
  let before = 0;
  let quickMean = 0;
  let slowMean = 0;
  let firsts = 0;
  for (let i = 0; i < s.values.length; i++) {
    const raw = s.values[i] as number;
    if (s.begins[i]) {
      valid = false;
      for (const code of codes) code.restart();
    }
    if (raw === missing) {
      for (const code of codes) code.mark(NOT_AVAILABLE);
      continue;
    }
    const v = raw < fold ? raw : mirror ? fold - raw : raw - size;
    if (!valid) {
      valid = true;
      firsts++;
      for (const code of codes) code.mark(FIRST);
      previous = before = quickMean = slowMean = v;
      continue;
    }
    last.residual(v - previous);
    line.residual(v - (2 * previous - before));
    quick.residual(v - Math.floor(quickMean + 0.5));
    slow.residual(v - Math.floor(slowMean + 0.5));
    before = previous;
    previous = v;
    quickMean += (v - quickMean) / 4;
    slowMean += (v - slowMean) / 32;
  }
  return codes.map((code) => code.cost(t) + firsts * s.active * LN2);
}

/** Last-value difference wrapped to half the range: angles and anything else that goes round. */
function modularCost(s: Series, t: GammaTables): number {
  const code = codes[0] as ClassCode;
  code.clear();
  const size = 2 ** s.width;
  let firsts = 0;
  for (let i = 0; i < s.values.length; i++) {
    if (s.begins[i]) {
      code.restart();
      code.mark(FIRST);
      firsts++;
      continue;
    }
    let d = (s.values[i] as number) - (s.values[i - 1] as number);
    if (d >= size / 2) d -= size;
    else if (d < -size / 2) d += size;
    code.residual(d);
  }
  return code.cost(t) + firsts * s.active * LN2;
}

/** One step throughout, with at most one miss in ten; steps of one may skip the value before or at the roll-over. */
function counterCost(s: Series, t: GammaTables): number {
  const n = s.values.length;
  const size = 2 ** s.width;
  const step = commonestStep(s, size);
  if (step === 0) return Number.POSITIVE_INFINITY;
  let hits = 0;
  let misses = 0;
  let highest = 0;
  for (let i = 0; i < n; i++) if ((s.values[i] as number) > highest) highest = s.values[i] as number;
  for (let i = 0; i < n; i++) {
    if (s.begins[i]) continue;
    const v = s.values[i] as number;
    const was = s.values[i - 1] as number;
    const d = (v - was + size) % size;
    const rolls =
      (step === 1 && was === highest && v <= 1) || (step === size - 1 && v === highest && was <= 1);
    if (d === step || rolls) hits++;
    else misses++;
  }
  if (hits <= 0.9 * (hits + misses)) return Number.POSITIVE_INFINITY;
  return kt(t, hits, misses) + misses * s.active * LN2 + 2 * s.width * LN2;
}

/** Commonest step other than 0 in the first frames; 0 where none is common enough to be the step of a counter. */
function commonestStep(s: Series, size: number): number {
  const counts = new Map<number, number>();
  let best = 0;
  let most = 0;
  let all = 0;
  for (let i = 1; i < Math.min(40, s.values.length); i++) {
    if (s.begins[i]) continue;
    const d = ((s.values[i] as number) - (s.values[i - 1] as number) + size) % size;
    all++;
    if (d === 0) continue;
    const count = (counts.get(d) ?? 0) + 1;
    counts.set(d, count);
    if (count > most) {
      most = count;
      best = d;
    }
  }
  return 4 * most >= all ? best : 0;
}

type Motion = Pick<
  CodeLengths,
  'changes' | 'wraps' | 'middles' | 'shortWraps' | 'topFlips' | 'shortTopFlips'
>;

function motionOf(s: Series): Motion {
  const half = 2 ** (s.width - 1);
  const short = Math.max(1, half / 4);
  const motion: Motion = { changes: 0, wraps: 0, middles: 0, shortWraps: 0, topFlips: 0, shortTopFlips: 0 };
  for (let i = 1; i < s.values.length; i++) {
    if (s.begins[i]) continue;
    const v = s.values[i] as number;
    const was = s.values[i - 1] as number;
    if (v === was) continue;
    motion.changes++;
    const size = Math.abs(v - was);
    const flips = v >= half !== was >= half;
    if (size > half) {
      motion.wraps++;
      if (2 * half - size <= short) motion.shortWraps++;
    } else if (flips) motion.middles++;
    if (!flips) continue;
    motion.topFlips++;
    if ((v % half) + (was % half) <= short) motion.shortTopFlips++;
  }
  return motion;
}
