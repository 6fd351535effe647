/**
 * Likeness of two series at every shift: normalised cross-correlation in which unknown stretches do not count
 * (D. Padfield, Masked object registration in the Fourier domain, IEEE Trans. Image Processing 21, 2012).
 */
import { correlatePairs, spectrum } from './fourier.ts';
import { meanAround, type Sampled } from './sampled.ts';

export interface Likeness {
  stepS: number;
  /** Shift k is `firstS + k × stepS`: time in the second = time in the first + shift. */
  firstS: number;
  /** Correlation at each shift; NaN where too little overlaps or one of the two hardly moves in the overlap. */
  r: Float64Array;
  /** Independent values that a correlation over the whole overlap rests on (M. S. Bartlett 1946). */
  independent: number;
  /** Shift over which the likeness of each to itself falls to a half, s. */
  widthS: number;
}

/** The overlap holds at least this share of the shorter series, and each moves there with this share of its variance. */
const OVERLAP = 0.5;
const MOVES = 0.1;
const MOST_CELLS = 60_000;

export function likeness(a: Sampled, b: Sampled): Likeness {
  const span = (s: Sampled) => s.time[s.time.length - 1]! - s.time[0]!;
  const stepS = Math.max(Math.max(a.stepS, b.stepS) / 4, Math.max(span(a), span(b)) / MOST_CELLS);
  const [ga, gb] = [grid(a, stepS), grid(b, stepS)];
  const n = 2 ** Math.ceil(Math.log2(ga.value.length + gb.value.length));
  const [a0, b0] = [spectrum(ga.known, n), spectrum(gb.known, n)];
  const [a1, b1] = [spectrum(ga.value, n), spectrum(gb.value, n)];
  const [a2, b2] = [
    spectrum(
      ga.value.map((v) => v * v),
      n,
    ),
    spectrum(
      gb.value.map((v) => v * v),
      n,
    ),
  ];
  const [count, product] = correlatePairs(a0, b0, a1, b1);
  const [sumA, sumB] = correlatePairs(a1, b0, a0, b1);
  const [squareA, squareB] = correlatePairs(a2, b0, a0, b2);
  const most = Math.min(ga.count, gb.count);
  const [na, nb] = [ga.value.length, gb.value.length];
  const r = new Float64Array(na + nb - 1);
  for (let i = 0; i < r.length; i++) {
    const k = i - (na - 1);
    const at = (k + n) % n;
    const c = count[at]!;
    const va = squareA[at]! / c - (sumA[at]! / c) ** 2;
    const vb = squareB[at]! / c - (sumB[at]! / c) ** 2;
    // Both grids have variance 1.
    r[i] =
      c < OVERLAP * most - 0.5 || va < MOVES || vb < MOVES
        ? Number.NaN
        : (product[at]! / c - (sumA[at]! / c) * (sumB[at]! / c)) / Math.sqrt(va * vb);
  }
  const { independent, half } = memory(ga, gb, most);
  return { stepS, firstS: gb.startS - ga.startS - (na - 1) * stepS, r, independent, widthS: half * stepS };
}

interface Grid {
  startS: number;
  /** Mean 0 and variance 1 over the known cells, 0 elsewhere. */
  value: Float64Array;
  /** 1 or 0. */
  known: Float64Array;
  count: number;
}

function grid(s: Sampled, stepS: number): Grid {
  const startS = s.time[0]! + stepS / 2;
  const n = Math.max(1, Math.floor((s.time[s.time.length - 1]! - s.time[0]!) / stepS));
  const value = new Float64Array(n);
  const known = new Float64Array(n);
  let [count, sum, square] = [0, 0, 0];
  for (let i = 0; i < n; i++) {
    const v = meanAround(s, startS + i * stepS, stepS * (1 - 1e-9));
    if (!Number.isFinite(v)) continue;
    value[i] = v;
    known[i] = 1;
    count++;
    sum += v;
  }
  const mean = count > 0 ? sum / count : 0;
  for (let i = 0; i < n; i++) if (known[i]) square += (value[i]! - mean) ** 2;
  const deviation = Math.sqrt(square / Math.max(1, count)) || 1;
  for (let i = 0; i < n; i++) value[i] = known[i] ? (value[i]! - mean) / deviation : 0;
  return { startS, value, known, count };
}

/** How long both remember: the sum of the products of their autocorrelations. */
function memory(a: Grid, b: Grid, count: number): { independent: number; half: number } {
  let sum = 1;
  let half = 0;
  const longest = Math.min(4000, Math.floor(Math.min(a.value.length, b.value.length) / 4));
  for (let lag = 1; lag <= longest; lag++) {
    const [p, q] = [auto(a, lag), auto(b, lag)];
    if (half === 0 && Math.min(p, q) < 0.5) half = lag;
    if (p <= 0.05 || q <= 0.05) break;
    sum += 2 * p * q;
  }
  return { independent: count / sum, half: half || Math.max(1, longest) };
}

function auto({ value, known }: Grid, lag: number): number {
  // Of a long series every few cells tell enough.
  const every = Math.max(1, Math.floor(value.length / 10_000));
  let [top, n] = [0, 0];
  for (let i = 0; i + lag < value.length; i += every) {
    if (!known[i] || !known[i + lag]) continue;
    top += value[i]! * value[i + lag]!;
    n++;
  }
  return n > 0 ? top / n : 0;
}
