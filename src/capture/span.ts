/** Earliest and latest time and what lies between, seconds; times may run backwards. All 0 where there are none. */
export function timeSpan(time: Float64Array): { first: number; last: number; seconds: number } {
  if (time.length === 0) return { first: 0, last: 0, seconds: 0 };
  let first = Number.POSITIVE_INFINITY;
  let last = Number.NEGATIVE_INFINITY;
  // By index: the iterator of a typed array takes ten times as long.
  for (let i = 0; i < time.length; i++) {
    const t = time[i] as number;
    if (t < first) first = t;
    if (t > last) last = t;
  }
  return { first, last, seconds: last - first };
}
