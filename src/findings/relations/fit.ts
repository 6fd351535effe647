/** Least squares with a few unknowns, on series with slow drift taken away. */

export interface Fit {
  /** One for each column. */
  factors: number[];
  /** Share of the sum of squares of `y` that the columns explain. */
  explained: number;
}

/** y ≈ Σ factor × column by the normal equations; null where columns depend on each other. */
export function fitOf(columns: readonly Float64Array[], y: Float64Array): Fit | null {
  const n = columns.length;
  const rows = columns.map((a) => [...columns.map((b) => product(a, b)), product(a, y)]);
  for (let k = 0; k < n; k++) {
    const pivot = rows[k] as number[];
    const scale = product(columns[k] as Float64Array, columns[k] as Float64Array);
    if (!((pivot[k] as number) > 1e-6 * scale)) return null;
    for (let i = 0; i < n; i++) {
      if (i === k) continue;
      const row = rows[i] as number[];
      const times = (row[k] as number) / (pivot[k] as number);
      for (let j = k; j <= n; j++) row[j] = (row[j] as number) - times * (pivot[j] as number);
    }
  }
  const factors = rows.map((row, k) => (row[n] as number) / (row[k] as number));
  let left = 0;
  let total = 0;
  for (let c = 0; c < y.length; c++) {
    let v = y[c] as number;
    total += v * v;
    for (let k = 0; k < n; k++) v -= (factors[k] as number) * ((columns[k] as Float64Array)[c] as number);
    left += v * v;
  }
  return { factors, explained: total > 0 ? 1 - left / total : 0 };
}

function product(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let c = 0; c < a.length; c++) sum += (a[c] as number) * (b[c] as number);
  return sum;
}
