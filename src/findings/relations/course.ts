/** The course of a signal with slow drift taken away, and how closely two courses agree at any shift. */

import { correlateAll, powerOfTwo, type Spectrum, spectrumOf } from './fourier.ts';
import type { Grid, GridSignal } from './grid.ts';
import { chanceOf } from './statistics.ts';

export interface Course {
  signal: GridSignal;
  /** Value less the straight line through its surroundings, scaled to a sum of squares of 1; Float64[cells]. */
  fast: Float64Array;
  /** Block means of `fast`, scaled to a sum of squares of 1. */
  sketch: Float32Array;
  /** Value difference over each block (around the range where it wraps), less its mean, scaled alike. */
  steps: Float32Array;
  /** Block means of the value, less their mean, scaled alike. */
  slow: Float32Array;
  /** Goes one way all the time, but for noise: any two such signals look alike. */
  drifts: boolean;
}

/** Seconds of the surroundings: what changes more slowly than this is drift. */
const DRIFT_S = 20;
const BLOCKS = 1024;

export function courseOf(grid: Grid, signal: GridSignal): Course | null {
  const { cells, cellS } = grid;
  const blocks = Math.min(BLOCKS, cells);
  const block = cells / blocks;
  const half = Math.max(4, Math.round(Math.max(DRIFT_S / cellS, 16 * block) / 2));
  const fast = new Float64Array(cells);
  for (const { from, to } of grid.stretches) lessTrend(signal.value, fast, from, to, half);
  if (!unit(fast)) return null;
  const sketch = new Float32Array(blocks);
  const steps = new Float32Array(blocks);
  const slow = new Float32Array(blocks);
  const turn = wraps(signal) ? 2 ** signal.length : 0;
  for (let b = 0; b < blocks; b++) {
    const from = Math.floor(b * block);
    const to = Math.min(cells, Math.floor((b + 1) * block));
    let sum = 0;
    let level = 0;
    let moved = 0;
    for (let c = from; c < to; c++) {
      sum += fast[c] as number;
      level += signal.value[c] as number;
      if (c > 0) moved += around((signal.value[c] as number) - (signal.value[c - 1] as number), turn);
    }
    sketch[b] = sum / (to - from);
    slow[b] = level / (to - from);
    steps[b] = moved;
  }
  for (const { from } of grid.stretches) if (from > 0) steps[Math.floor(from / block)] = 0;
  if (!unit(sketch)) return null;
  unit(steps);
  unit(slow);
  return { signal, fast, sketch, steps, slow, drifts: drifts(signal.value) };
}

/** A value that jumps by more than half its range, and seldom, runs around: a position, a distance. */
export function wraps({ value, length, changes, kind, signed }: GridSignal): boolean {
  if (kind !== 'number' || length < 6 || signed !== false) return false;
  const half = 2 ** (length - 1);
  let jumps = 0;
  for (let c = 1; c < value.length; c++)
    if (Math.abs((value[c] as number) - (value[c - 1] as number)) > half) jumps++;
  return jumps > 0 && jumps < 0.2 * changes;
}

export function around(step: number, turn: number): number {
  if (turn === 0) return step;
  return step > turn / 2 ? step - turn : step < -turn / 2 ? step + turn : step;
}

export interface Agreement {
  /** Correlation at the best shift, with its sign. */
  r: number;
  /** Cells by which the second comes later. */
  shift: number;
  /** Probability that unrelated series of this autocorrelation agree as well at any of the shifts tried. */
  chance: number;
  /** Independent values that the series are worth. */
  effective: number;
}

/** Best agreement of two unit series within ±`most` cells; the rest of the shifts say what chance does. */
export function agreementOf(a: Spectrum, b: Spectrum, cells: number, most: number): Agreement {
  const all = correlateAll(a, b);
  const size = all.length;
  let r = 0;
  let shift = 0;
  for (let k = -most; k <= most; k++) {
    const v = all[(k + size) % size] as number;
    if (Math.abs(v) > Math.abs(r)) {
      r = v;
      shift = k;
    }
  }
  // Zero-padding weakens large shifts: each is set right by the share of cells that overlap.
  let squares = 0;
  let count = 0;
  const clear = Math.max(2 * most, Math.floor(cells / 50));
  for (let k = clear; k < cells / 2; k++) {
    const overlap = cells / (cells - k);
    const before = (all[size - k] as number) * overlap;
    const after = (all[k] as number) * overlap;
    squares += before * before + after * after;
    count += 2;
  }
  // Shifted swings of one frequency agree again and again, though few others would: what counts lies between what the
  // shifts say and what the width of the peak says.
  const shifted = count > 0 && squares > 0 ? Math.min(cells, count / squares) : 0;
  const effective = Math.sqrt(shifted * Math.max(shifted, cells / peakWidth(all, shift)));
  return {
    r,
    shift,
    effective,
    chance: Math.min(1, chanceOf(r, effective) * Math.max(1, (2 * most) / peakWidth(all, shift))),
  };
}

/** Cells around the best shift at which the correlation stays above half of its peak. */
function peakWidth(all: Float64Array, shift: number): number {
  const size = all.length;
  const half = Math.abs(all[(shift + size) % size] as number) / 2;
  let width = 1;
  for (const way of [-1, 1])
    for (let k = 1; k < size / 4; k++) {
      if (Math.abs(all[(shift + way * k + size) % size] as number) < half) break;
      width++;
    }
  return width;
}

export function spectrum(fast: Float64Array): Spectrum {
  return spectrumOf(fast, powerOfTwo(2 * fast.length));
}

export function dot(a: Float32Array | Float64Array, b: Float32Array | Float64Array): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += (a[i] as number) * (b[i] as number);
  return sum;
}

/** Takes the mean away and scales to a sum of squares of 1; false where nothing is left. */
export function unit(values: Float32Array | Float64Array): boolean {
  let m = 0;
  for (const v of values) m += v / values.length;
  let total = 0;
  for (let i = 0; i < values.length; i++) {
    const v = (values[i] as number) - m;
    values[i] = v;
    total += v * v;
  }
  if (!(total > 1e-18)) return false;
  const scale = 1 / Math.sqrt(total);
  for (let i = 0; i < values.length; i++) values[i] = (values[i] as number) * scale;
  return true;
}

/** Value less the least-squares line through ±`half` cells around it, which bends at neither end. */
function lessTrend(value: Float64Array, out: Float64Array, from: number, to: number, half: number): void {
  let n = 0;
  let st = 0;
  let stt = 0;
  let sv = 0;
  let stv = 0;
  const take = (c: number, sign: 1 | -1) => {
    const t = c - from;
    const v = value[c] as number;
    n += sign;
    st += sign * t;
    stt += sign * t * t;
    sv += sign * v;
    stv += sign * t * v;
  };
  let low = from;
  let high = from;
  for (let c = from; c < to; c++) {
    while (high < Math.min(to, c + half + 1)) take(high++, 1);
    while (low < c - half) take(low++, -1);
    const spread = n * stt - st * st;
    const slope = spread > 0 ? (n * stv - st * sv) / spread : 0;
    out[c] = (value[c] as number) - (sv + slope * (n * (c - from) - st)) / n;
  }
}

/** Parts of a recording whose means must go both ways. */
const PARTS = 32;
const ONE_WAY = 0.9;

function drifts(value: Float64Array): boolean {
  const parts = Array.from({ length: PARTS }, (_, k) => {
    const part = value.subarray(
      Math.floor((k * value.length) / PARTS),
      Math.floor(((k + 1) * value.length) / PARTS),
    );
    return part.reduce((sum, v) => sum + v, 0) / Math.max(1, part.length);
  });
  let way = 0;
  for (let k = 1; k < PARTS; k++) way += Math.abs((parts[k] as number) - (parts[k - 1] as number));
  return way > 0 && Math.abs((parts[PARTS - 1] as number) - (parts[0] as number)) > ONE_WAY * way;
}
