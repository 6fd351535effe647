/** Frames in order of time, for recordings whose clocks run backwards here and there. */

/** Indices by rising time, recorded order among equal times; null where the frames stand in that order already. */
export function timeOrder(time: Float64Array): Uint32Array | null {
  let rises = true;
  for (let i = 1; rises && i < time.length; i++) rises = (time[i] as number) >= (time[i - 1] as number);
  return rises ? null : merged(time);
}

/**
 * First place in `[from, to)` of rising `values` whose value is at least `wanted` (`low`) or above it (`high`);
 * `to` where there is none.
 */
export function boundOf(
  values: Float64Array,
  wanted: number,
  side: 'low' | 'high',
  from = 0,
  to = values.length,
): number {
  let low = from;
  let high = to;
  while (low < high) {
    const middle = (low + high) >>> 1;
    const value = values[middle] as number;
    if (value < wanted || (side === 'high' && value === wanted)) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** Merge sort of indices from the bottom up, without calls in the inner loop; stable. */
function merged(time: Float64Array): Uint32Array {
  const n = time.length;
  let from = new Uint32Array(n);
  let into = new Uint32Array(n);
  for (let i = 0; i < n; i++) from[i] = i;
  for (let width = 1; width < n; width *= 2) {
    for (let start = 0; start < n; start += 2 * width) {
      const middle = Math.min(n, start + width);
      const end = Math.min(n, start + 2 * width);
      let a = start;
      let b = middle;
      for (let at = start; at < end; at++) {
        const left =
          a < middle &&
          (b >= end || !((time[from[b] as number] as number) < (time[from[a] as number] as number)));
        into[at] = from[left ? a++ : b++] as number;
      }
    }
    [from, into] = [into, from];
  }
  return from;
}
