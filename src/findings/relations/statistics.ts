/** Plain statistics over typed arrays that relations, scale and cues share. */

export function median(values: ArrayLike<number>): number {
  return quantile(values, 0.5);
}

/** Linear between order statistics (the definition numbered 7 by Hyndman and Fan 1996). NaN of nothing. */
export function quantile(values: ArrayLike<number>, share: number): number {
  const sorted = Float64Array.from(values).sort();
  if (sorted.length === 0) return Number.NaN;
  const at = share * (sorted.length - 1);
  const low = Math.floor(at);
  const high = Math.min(low + 1, sorted.length - 1);
  return (sorted[low] as number) + (at - low) * ((sorted[high] as number) - (sorted[low] as number));
}

export function mean(values: ArrayLike<number>): number {
  let sum = 0;
  for (let i = 0; i < values.length; i++) sum += values[i] as number;
  return sum / values.length;
}

/** 1.4826 × median absolute deviation: a standard deviation where values are normal. */
export function spreadOf(values: ArrayLike<number>): number {
  const middle = median(values);
  return 1.4826 * median(Float64Array.from(values, (v) => Math.abs(v - middle)));
}

/** Pearson's r; 0 where one of the series stands still. */
export function correlation(a: ArrayLike<number>, b: ArrayLike<number>): number {
  const n = a.length;
  const ma = mean(a);
  const mb = mean(b);
  let saa = 0;
  let sbb = 0;
  let sab = 0;
  for (let i = 0; i < n; i++) {
    const da = (a[i] as number) - ma;
    const db = (b[i] as number) - mb;
    saa += da * da;
    sbb += db * db;
    sab += da * db;
  }
  return saa > 0 && sbb > 0 ? sab / Math.sqrt(saa * sbb) : 0;
}

/** Mid-ranks, from 0. */
export function ranksOf(values: ArrayLike<number>): Float64Array {
  const n = values.length;
  const order = Uint32Array.from({ length: n }, (_, i) => i).sort(
    (i, j) => (values[i] as number) - (values[j] as number),
  );
  const ranks = new Float64Array(n);
  for (let from = 0; from < n; ) {
    let to = from + 1;
    while (to < n && values[order[to] as number] === values[order[from] as number]) to++;
    for (let k = from; k < to; k++) ranks[order[k] as number] = (from + to - 1) / 2;
    from = to;
  }
  return ranks;
}

/**
 * Two-sided probability that unrelated series of `effective` independent values correlate by at least |r|: Fisher's
 * transformation, atanh(r) · √(n − 3) is normal.
 */
export function chanceOf(r: number, effective: number): number {
  if (effective <= 3.5) return 1;
  const z = Math.atanh(Math.min(Math.abs(r), 1 - 1e-12)) * Math.sqrt(effective - 3);
  return Math.min(1, 2 * upperTail(z));
}

/** Probability that a standard normal value exceeds z ≥ 0; relative error below 1e-6 (Numerical Recipes, erfcc). */
export function upperTail(z: number): number {
  const x = z / Math.SQRT2;
  const t = 1 / (1 + 0.5 * x);
  const series = [
    1.00002368, 0.37409196, 0.09678418, -0.18628806, 0.27886807, -1.13520398, 1.48851587, -0.82215223,
    0.17087277,
  ].reduceRight((sum, c) => c + t * sum, 0);
  return 0.5 * t * Math.exp(-x * x - 1.26551223 + t * series);
}

/**
 * Independent values that `n` samples of two autocorrelated series are worth for their correlation: n ÷ Σ ρa(k) ρb(k) over
 * all lags (Bartlett 1935), the sum cut where either autocorrelation first falls below 0.05.
 */
export function effectiveCount(a: ArrayLike<number>, b: ArrayLike<number>): number {
  const n = a.length;
  if (n < 4) return n;
  const ra = centred(a);
  const rb = centred(b);
  let sum = 1;
  for (let k = 1; k < n / 2; k++) {
    const product = autocorrelation(ra, k) * autocorrelation(rb, k);
    if (product < 0.05) break;
    sum += 2 * product * (1 - k / n);
  }
  return n / sum;
}

function centred(values: ArrayLike<number>): Float64Array {
  const m = mean(values);
  const out = Float64Array.from(values, (v) => v - m);
  let sum = 0;
  for (const v of out) sum += v * v;
  const norm = sum > 0 ? 1 / Math.sqrt(sum) : 0;
  for (let i = 0; i < out.length; i++) out[i] = (out[i] as number) * norm;
  return out;
}

function autocorrelation(unit: Float64Array, lag: number): number {
  let sum = 0;
  for (let i = lag; i < unit.length; i++) sum += (unit[i] as number) * (unit[i - lag] as number);
  return sum;
}
