/** Robust statistics over small typed arrays, and phases modulo a period. */

/** Weighted straight line through (x − middle, y) with Huber's weights, threshold 1.345 deviations, five rounds. */
export function robustLine(
  x: Float64Array,
  y: Float64Array,
  weight: Float64Array,
  middle: number,
): { at: number; slope: number } {
  let at = 0;
  let slope = 0;
  const w = weight.slice();
  for (let round = 0; round < 5; round++) {
    let s = 0;
    let sx = 0;
    let sy = 0;
    let sxx = 0;
    let sxy = 0;
    for (let k = 0; k < x.length; k++) {
      const dx = (x[k] as number) - middle;
      const wk = w[k] as number;
      s += wk;
      sx += wk * dx;
      sy += wk * (y[k] as number);
      sxx += wk * dx * dx;
      sxy += wk * dx * (y[k] as number);
    }
    const det = s * sxx - sx * sx;
    if (!(det > 0)) return { at: s > 0 ? sy / s : 0, slope: 0 };
    slope = (s * sxy - sx * sy) / det;
    at = (sy - slope * sx) / s;
    const away = Float64Array.from(y, (v, k) => Math.abs(v - at - slope * ((x[k] as number) - middle)));
    const scale = 1.345 * 1.4826 * medianInPlace(away.slice());
    if (!(scale > 0)) break;
    for (let k = 0; k < x.length; k++)
      w[k] = (weight[k] as number) * Math.min(1, scale / (away[k] as number));
  }
  return { at, slope };
}

/** Root mean square with every residual cut off at three robust deviations. */
export function clippedRms(values: Float64Array): number {
  const limit = 3 * 1.4826 * medianInPlace(values.map((v) => Math.abs(v)));
  let sum = 0;
  for (const v of values) sum += Math.min(Math.abs(v), limit) ** 2;
  return Math.sqrt(sum / values.length);
}

export function autocorrelation(values: Float64Array): number {
  let own = 0;
  let next = 0;
  for (let k = 0; k < values.length; k++) {
    own += (values[k] as number) ** 2;
    if (k > 0) next += (values[k] as number) * (values[k - 1] as number);
  }
  return own > 0 ? next / own : 0;
}

/** x brought into −g/2 … g/2 by whole g. */
export function wrap(x: number, g: number): number {
  return x - g * Math.round(x / g);
}

export function clip(x: number, least: number, greatest: number): number {
  return Math.min(greatest, Math.max(least, x));
}

/** Median; sorts `values`. */
export function medianInPlace(values: Float64Array): number {
  values.sort();
  const n = values.length;
  if (n === 0) return Number.NaN;
  const upper = values[n >> 1] as number;
  return n % 2 === 1 ? upper : (upper + (values[(n >> 1) - 1] as number)) / 2;
}
