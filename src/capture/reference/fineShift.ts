/** Shift and drift between two series to a fraction of their steps, with intervals from leaving out one part after the other. */
import { meanAround, type Sampled } from './sampled.ts';

export interface FineShift {
  /** time in the second = time in the first + shiftS + drift × (time in the first − middleS). */
  shiftS: number;
  /** Half the 95 % interval, s. */
  shiftHalfS: number;
  /** Seconds a second; 0 and no interval where the overlap is too short to tell. */
  drift: number;
  driftHalf: number | null;
  middleS: number;
  spanS: number;
  pairs: number;
  r: number;
  /** second ≈ intercept + slope × first (`of` first) or the other way round, and what is left over, root mean square. */
  line: { slope: number; intercept: number };
  residual: number;
  /** Of the residuals: how many of them are independent. */
  independent: number;
}

/** Parts that are left out one by one; 2.093 is Student's t for 95 % and 19 degrees of freedom. */
const PARTS = 20;
const STUDENT = 2.093;
const MOST_PAIRS = 12_000;
/** A drift is looked for in overlaps from this length on, s, and believed where it is known to this, s/s. */
const DRIFT_FROM_S = 120;
const DRIFT_KNOWN = 300e-6;

interface Pairing {
  first: Sampled;
  second: Sampled;
  /** Times and values of the coarser series at which the finer one is asked. */
  times: Float64Array;
  values: Float64Array;
  coarse: 'first' | 'second';
  widthS: number;
  middleS: number;
}

/** null where fewer than eight pairs are left. `coarseS` is the shift to start from, known to about `withinS`. */
export function fineShift(
  first: Sampled,
  second: Sampled,
  coarseS: number,
  withinS: number,
): FineShift | null {
  const from = Math.max(first.time[0]!, second.time[0]! - coarseS);
  const to = Math.min(first.time[first.time.length - 1]!, second.time[second.time.length - 1]! - coarseS);
  const pairing = pairingOf(first, second, coarseS, from, to);
  if (pairing.times.length < 8) return null;
  let { shift, width } = settle(pairing, coarseS, withinS);
  const longEnough = to - from >= DRIFT_FROM_S && pairing.times.length >= 3 * PARTS;
  let drift = 0;
  let driftHalf: number | null = null;
  let shiftHalf = Number.NaN;
  if (longEnough) {
    const slopeWidth = (2 * width) / (to - from);
    for (let round = 0; round < 4; round++) {
      const fit = surface(pairing, shift, drift, width, slopeWidth);
      if (fit === null) break;
      [shift, drift] = [fit.shift, fit.drift];
      [shiftHalf, driftHalf] = [fit.shiftHalf, fit.driftHalf];
      if (fit.moved < 0.3) break;
    }
  }
  if (driftHalf === null || !(driftHalf <= DRIFT_KNOWN)) {
    [drift, driftHalf] = [0, null];
    ({ shift, width } = settle(pairing, coarseS, withinS));
    shiftHalf = alone(pairing, shift, width);
  }
  const best = describe(pairing, shift, drift);
  const finest = Math.min(first.stepS, second.stepS);
  return {
    shiftS: shift,
    // Within a twentieth of the finer step neither series says anything.
    shiftHalfS: Math.max(Number.isFinite(shiftHalf) ? shiftHalf : width, finest / 20),
    drift,
    driftHalf,
    middleS: pairing.middleS,
    spanS: to - from,
    ...best,
  };
}

function pairingOf(first: Sampled, second: Sampled, shift: number, from: number, to: number): Pairing {
  const coarse = first.stepS >= second.stepS ? 'first' : 'second';
  const [own, other] = coarse === 'first' ? [first, second] : [second, first];
  const [low, high] = coarse === 'first' ? [from, to] : [from + shift, to + shift];
  const inside = Array.from(own.time.keys()).filter((i) => own.time[i]! >= low && own.time[i]! <= high);
  const every = Math.max(1, Math.ceil(inside.length / MOST_PAIRS));
  const taken = inside.filter((_, k) => k % every === 0);
  return {
    first,
    second,
    times: Float64Array.from(taken, (i) => own.time[i]!),
    values: Float64Array.from(taken, (i) => own.value[i]!),
    coarse,
    widthS: Math.max(other.stepS, Math.min(own.stepS, 1)),
    middleS: (from + to) / 2,
  };
}

/** Sums over the pairs of each part: n, x, y, xx, yy, xy. */
type Sums = Float64Array;

function sumsAt(p: Pairing, shift: number, drift: number): Sums {
  const sums = new Float64Array(PARTS * 6);
  const n = p.times.length;
  for (let i = 0; i < n; i++) {
    const y = p.values[i]!;
    const x = otherAt(p, p.times[i]!, shift, drift);
    if (Number.isNaN(x)) continue;
    const at = 6 * Math.floor((i * PARTS) / n);
    sums[at] = sums[at]! + 1;
    sums[at + 1] = sums[at + 1]! + x;
    sums[at + 2] = sums[at + 2]! + y;
    sums[at + 3] = sums[at + 3]! + x * x;
    sums[at + 4] = sums[at + 4]! + y * y;
    sums[at + 5] = sums[at + 5]! + x * y;
  }
  return sums;
}

function otherAt(p: Pairing, t: number, shift: number, drift: number): number {
  if (p.coarse === 'first') return meanAround(p.second, t + shift + drift * (t - p.middleS), p.widthS);
  const firstT = p.middleS + (t - shift - p.middleS) / (1 + drift);
  return meanAround(p.first, firstT, p.widthS);
}

/** Share of the variance that the best line leaves, without one part (−1: with all). */
function unexplained(sums: Sums, without: number): number {
  let [n, x, y, xx, yy, xy] = [0, 0, 0, 0, 0, 0];
  for (let part = 0; part < PARTS; part++) {
    if (part === without) continue;
    const at = 6 * part;
    n += sums[at]!;
    x += sums[at + 1]!;
    y += sums[at + 2]!;
    xx += sums[at + 3]!;
    yy += sums[at + 4]!;
    xy += sums[at + 5]!;
  }
  const [vx, vy, c] = [xx - (x * x) / n, yy - (y * y) / n, xy - (x * y) / n];
  return n < 4 || !(vx > 0) || !(vy > 0) ? 1 : Math.max(0, 1 - (c * c) / (vx * vy));
}

/** The best shift without drift, and a width around it over which the likeness falls visibly and like a parabola. */
function settle(p: Pairing, startS: number, withinS: number): { shift: number; width: number } {
  const error = (shift: number) => unexplained(sumsAt(p, shift, 0), -1);
  let shift = startS;
  let least = error(startS);
  for (let k = -8; k <= 8; k++) {
    const e = error(startS + (k * withinS) / 8);
    if (e < least) [shift, least] = [startS + (k * withinS) / 8, e];
  }
  let width = withinS / 4;
  const finest = Math.min(p.first.stepS, p.second.stepS) / 20;
  for (let round = 0; round < 16; round++) {
    const [low, middle, high] = [error(shift - width), error(shift), error(shift + width)];
    const curve = low - 2 * middle + high;
    if (curve > 0) shift += Math.max(-1, Math.min(1, (0.5 * (low - high)) / curve)) * width;
    const rise = curve / 2 / (middle + 1e-4);
    if (rise > 1.5 && width > finest) width /= 1.6;
    else if (rise < 0.3 && width < 2 * withinS) width *= 1.5;
    else if (Math.abs(low - high) < 0.2 * Math.abs(curve)) break;
  }
  return { shift, width };
}

/** Half the interval of the shift where no drift is fitted. */
function alone(p: Pairing, shift: number, width: number): number {
  const sums = [-1, -0.5, 0, 0.5, 1].map((k) => sumsAt(p, shift + k * width, 0));
  const vertex = (without: number) => {
    const e = sums.map((s) => unexplained(s, without));
    // Least squares parabola through five points at −2 … 2.
    const linear = (-2 * e[0]! - e[1]! + e[3]! + 2 * e[4]!) / 10;
    const square = (2 * e[0]! - e[1]! - 2 * e[2]! - e[3]! + 2 * e[4]!) / 14;
    return square > 0 ? (-linear / (2 * square)) * (width / 2) : Number.NaN;
  };
  return spread(Array.from({ length: PARTS }, (_, part) => vertex(part)));
}

/** Jackknife over parts (Quenouille 1956, Tukey 1958; by blocks because neighbours are alike: Künsch 1989): half a 95 % interval. */
function spread(values: readonly number[]): number {
  const n = values.length;
  const mean = values.reduce((a, b) => a + b, 0) / n;
  return STUDENT * Math.sqrt(((n - 1) / n) * values.reduce((s, v) => s + (v - mean) ** 2, 0));
}

/** A paraboloid through the unexplained shares on five by five points around a shift and drift. */
function surface(p: Pairing, shift: number, drift: number, width: number, slopeWidth: number) {
  const points: [number, number][] = [];
  for (let i = -2; i <= 2; i++) for (let j = -2; j <= 2; j++) points.push([i / 2, j / 2]);
  const sums = points.map(([u, v]) => sumsAt(p, shift + u * width, drift + v * slopeWidth));
  const vertex = (without: number): [number, number] | null => {
    // On this symmetric grid the terms u, v and uv are orthogonal to all others; u² and v² are so after centring.
    let [u1, v1, uv, uu, vv] = [0, 0, 0, 0, 0];
    for (const [i, [u, v]] of points.entries()) {
      const e = unexplained(sums[i]!, without);
      u1 += e * u;
      v1 += e * v;
      uv += e * u * v;
      uu += e * (u * u - 0.5);
      vv += e * (v * v - 0.5);
    }
    // Σu² = 12.5, Σu²v² = 6.25, Σ(u² − ½)² = 4.375 over the grid.
    const [gu, gv, h, a, b] = [u1 / 12.5, v1 / 12.5, uv / 6.25, (2 * uu) / 4.375, (2 * vv) / 4.375];
    const det = a * b - h * h;
    if (!(a > 0) || !(det > 0)) return null;
    return [(-gu * b + gv * h) / det, (-gv * a + gu * h) / det];
  };
  const best = vertex(-1);
  if (best === null) return null;
  const clamp = (x: number) => Math.max(-2, Math.min(2, x));
  const parts = Array.from({ length: PARTS }, (_, part) => vertex(part));
  const all = parts.filter((v) => v !== null);
  if (all.length < PARTS) return null;
  return {
    shift: shift + clamp(best[0]) * width,
    drift: drift + clamp(best[1]) * slopeWidth,
    shiftHalf: spread(all.map((v) => v[0])) * width,
    driftHalf: spread(all.map((v) => v[1])) * slopeWidth,
    moved: Math.max(Math.abs(best[0]), Math.abs(best[1])),
  };
}

function describe(p: Pairing, shift: number, drift: number) {
  const x: number[] = [];
  const y: number[] = [];
  for (let i = 0; i < p.times.length; i++) {
    const other = otherAt(p, p.times[i]!, shift, drift);
    if (!Number.isFinite(other)) continue;
    const own = p.values[i]!;
    x.push(p.coarse === 'first' ? own : other);
    y.push(p.coarse === 'first' ? other : own);
  }
  const n = x.length;
  const mean = (v: readonly number[]) => v.reduce((a, b) => a + b, 0) / n;
  const [mx, my] = [mean(x), mean(y)];
  let [xx, yy, xy] = [0, 0, 0];
  for (let i = 0; i < n; i++) {
    xx += (x[i]! - mx) ** 2;
    yy += (y[i]! - my) ** 2;
    xy += (x[i]! - mx) * (y[i]! - my);
  }
  // first ≈ intercept + slope × second: what is left is in the unit of the reference.
  const slope = yy > 0 ? xy / yy : 0;
  const left = x.map((v, i) => v - mx - slope * (y[i]! - my));
  const square = left.reduce((s, v) => s + v * v, 0);
  let memory = 1;
  for (let lag = 1; lag < n / 4; lag++) {
    let sum = 0;
    for (let i = lag; i < n; i++) sum += left[i]! * left[i - lag]!;
    if (!(sum > 0.05 * square)) break;
    memory += (2 * sum) / square;
  }
  return {
    pairs: n,
    r: xy / Math.sqrt(xx * yy),
    line: { slope, intercept: mx - slope * my },
    residual: Math.sqrt(square / n),
    independent: n / memory,
  };
}
