/**
 * What it costs, in nats, to tell the values of one candidate field frame by frame under different ideas of what it is.
 * All codes are adaptive: they learn their probabilities from the values themselves (Krichevsky–Trofimov and Dirichlet
 * estimators in closed form), so no code has a parameter that could be tuned to a recording.
 */
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
}

const LN2 = Math.LN2;
const MOST_ENUM = 48;
const SYMBOLS = 34;
const CONTEXTS = 9;
const FIRST = 32;
const NOT_AVAILABLE = 33;
const AFTER_NOT_AVAILABLE = 8;
const PREDICTORS = 4;

/** Counts to use after each symbol. Contexts by class of a residual: 0, 1, 2, 3–4, 5–6, 7–9, 10–13, 14 and more. */
const ROW_AFTER = Uint16Array.from({ length: SYMBOLS }, (_, c) => {
  if (c === NOT_AVAILABLE) return AFTER_NOT_AVAILABLE * SYMBOLS;
  if (c === FIRST) return 0;
  return SYMBOLS * (c <= 2 ? c : c <= 4 ? 3 : c <= 6 ? 4 : c <= 9 ? 5 : c <= 13 ? 6 : 7);
});

export function codeLengths(series: Series): CodeLengths {
  const n = series.values.length;
  const tables = gammaTables(n + 64);
  const uniform = n * series.active * LN2;
  const motion = motionOf(series);
  const out: CodeLengths = {
    enumeration: enumerationCost(series, tables),
    unsigned: Number.POSITIVE_INFINITY,
    signed: Number.POSITIVE_INFINITY,
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
  out.line = Math.min(unsigned[1] as number, signed[1] as number);
  out.modular = modularCost(series, tables);
  const signedLevels = (signed[0] as number) < (unsigned[0] as number) - 2;
  out.levels = levelsCost(series, tables, signedLevels ? 'signed' : 'unsigned');
  return out;
}

/** Krichevsky–Trofimov: x of one kind and y of another. */
function kt(t: GammaTables, x: number, y: number): number {
  const { half, one } = t;
  return (
    (one[x + y] as number) -
    ((half[x] as number) - (half[0] as number)) -
    ((half[y] as number) - (half[0] as number))
  );
}

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

/** Counts of one class code: symbols by context, signs by context, and the bits below the leading one. */
class ClassCode {
  /** Plain fields and integers: this is the innermost loop of all findings. */
  readonly symbols = new Uint32Array(CONTEXTS * SYMBOLS);
  /** Minus and plus, by sign of the residual before: 0, +, −. */
  readonly signs = new Uint32Array(6);
  rest = 0;
  /** Where the counts of the context start, and those of the sign context. */
  row = 0;
  signRow = 0;

  clear(): void {
    this.symbols.fill(0);
    this.signs.fill(0);
    this.rest = 0;
    this.restart();
  }

  restart(): void {
    this.row = 0;
    this.signRow = 0;
  }

  mark(symbol: number): void {
    this.symbols[this.row + symbol]!++;
    this.row = ROW_AFTER[symbol] as number;
  }

  residual(r: number): void {
    if (r === 0) {
      this.symbols[this.row]!++;
      this.row = 0;
      this.signRow = 0;
      return;
    }
    const size = r > 0 ? r : -r;
    const c = size > 0x7fff_ffff ? 31 : 32 - Math.clz32(size);
    this.symbols[this.row + c]!++;
    this.row = ROW_AFTER[c] as number;
    this.rest += c - 1;
    if (r > 0) {
      this.signs[this.signRow + 1]!++;
      this.signRow = 2;
    } else {
      this.signs[this.signRow]!++;
      this.signRow = 4;
    }
  }

  /** The context runs on through a frame that another code told. */
  passed(r: number): void {
    const size = Math.abs(r);
    this.row = ROW_AFTER[size > 0x7fff_ffff ? 31 : 32 - Math.clz32(size)] as number;
    this.signRow = r === 0 ? 0 : r > 0 ? 2 : 4;
  }

  cost(t: GammaTables): number {
    let cost = this.rest * LN2;
    for (let row = 0; row < CONTEXTS * SYMBOLS; row += SYMBOLS) {
      let total = 0;
      for (let symbol = 0; symbol < SYMBOLS; symbol++) {
        const count = this.symbols[row + symbol] as number;
        if (count === 0) continue;
        total += count;
        cost -= (t.tenth[count] as number) - (t.tenth[0] as number);
      }
      if (total > 0) cost += (t.threeFour[total] as number) - (t.threeFour[0] as number);
    }
    for (let sign = 0; sign < 3; sign++) {
      cost += kt(t, this.signs[2 * sign] as number, this.signs[2 * sign + 1] as number);
    }
    return cost;
  }
}

const codes = Array.from({ length: PREDICTORS }, () => new ClassCode());

/** Number codes with four predictors: last value, along a line, running mean of 4 and of 32 frames. */
function numberCosts(s: Series, t: GammaTables, sign: 'unsigned' | 'signed'): number[] {
  const [last, line, quick, slow] = codes as [ClassCode, ClassCode, ClassCode, ClassCode];
  for (const code of codes) code.clear();
  const size = 2 ** s.width;
  const fold = sign === 'signed' ? size / 2 : size;
  // All ones, or the largest signed number, is the usual way to say "not available".
  const missing = s.width < 4 ? -1 : fold - 1;
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
    const v = raw >= fold ? raw - size : raw;
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

/** Open-addressed counts of (value before, value). */
let pairKeys = new Int32Array(8192);
let pairCounts = new Int32Array(8192);

/**
 * Order-1 memory of levels, escape method C (Moffat 1990): a successor seen before is told by its count, a new one by an
 * escape and its residual to the last value. Made for values that hop between few levels.
 */
function levelsCost(s: Series, t: GammaTables, sign: 'unsigned' | 'signed'): number {
  const n = s.values.length;
  let slots = pairKeys.length;
  while (slots < 4 * n) slots *= 2;
  if (slots !== pairKeys.length) {
    pairKeys = new Int32Array(slots);
    pairCounts = new Int32Array(slots);
  }
  pairKeys.fill(-1);
  const mask = slots - 1;
  const total = new Uint32Array(s.distinct);
  const successors = new Uint32Array(s.distinct);
  const code = codes[0] as ClassCode;
  code.clear();
  const size = 2 ** s.width;
  const fold = sign === 'signed' ? size / 2 : size;
  let cost = 0;
  for (let i = 0; i < n; i++) {
    if (s.begins[i]) {
      code.restart();
      cost += s.active * LN2;
      continue;
    }
    const from = s.ranks[i - 1] as number;
    const to = s.ranks[i] as number;
    const key = from * 65536 + to;
    let at = Math.imul(key ^ (key >>> 15), 0x9e37_79b1) & mask;
    while (pairKeys[at] !== -1 && pairKeys[at] !== (key | 0)) at = (at + 1) & mask;
    const sum = total[from] as number;
    const kinds = successors[from] as number;
    const raw = s.values[i] as number;
    const was = s.values[i - 1] as number;
    const r = (raw >= fold ? raw - size : raw) - (was >= fold ? was - size : was);
    if (pairKeys[at] === -1) {
      pairKeys[at] = key | 0;
      pairCounts[at] = 1;
      successors[from] = kinds + 1;
      if (sum > 0) cost += (t.log[sum + kinds] as number) - (t.log[kinds] as number);
      code.residual(r);
    } else {
      const count = pairCounts[at] as number;
      cost += (t.log[sum + kinds] as number) - (t.log[count] as number);
      pairCounts[at] = count + 1;
      code.passed(r);
    }
    total[from] = sum + 1;
  }
  return cost + code.cost(t);
}

function motionOf(s: Series): { changes: number; wraps: number; middles: number } {
  const half = 2 ** (s.width - 1);
  let changes = 0;
  let wraps = 0;
  let middles = 0;
  for (let i = 1; i < s.values.length; i++) {
    if (s.begins[i]) continue;
    const v = s.values[i] as number;
    const was = s.values[i - 1] as number;
    if (v === was) continue;
    changes++;
    if (Math.abs(v - was) > half) wraps++;
    else if (v >= half !== was >= half) middles++;
  }
  return { changes, wraps, middles };
}
