/** A measured series made ready for alignment: sorted, without holes in the data, with means over any short interval. */

export interface TimedValues {
  /** Seconds; need not rise. */
  timeS: ArrayLike<number>;
  /** Same length; NaN: nothing known. */
  value: ArrayLike<number>;
}

export interface Sampled {
  time: Float64Array;
  value: Float64Array;
  /** Number of the unbroken run that each sample belongs to, rising. */
  run: Uint32Array;
  /** Middle step between samples, s. */
  stepS: number;
  /** Integral of the line through the samples from the first one on, per run; for means. */
  area: Float64Array;
  /** Where the last question was answered: the next one is mostly a little further on. */
  near: { i: number };
}

/** Steps this many times the middle one, and longer than a second, are holes. */
const HOLE = 5;

/** null where fewer than two samples are usable. */
export function sampled({ timeS, value }: TimedValues): Sampled | null {
  const order: number[] = [];
  const breaks: number[] = [];
  let sorted = true;
  for (let i = 0; i < timeS.length; i++) {
    if (!Number.isFinite(timeS[i]!)) continue;
    if (!Number.isFinite(value[i]!)) {
      breaks.push(timeS[i]!);
      continue;
    }
    if (order.length > 0 && timeS[i]! < timeS[order[order.length - 1]!]!) sorted = false;
    order.push(i);
  }
  if (!sorted) order.sort((a, b) => timeS[a]! - timeS[b]!);
  const kept = order.filter((i, k) => k === 0 || timeS[i]! > timeS[order[k - 1]!]!);
  if (kept.length < 2) return null;
  breaks.sort((a, b) => a - b);
  const n = kept.length;
  const time = Float64Array.from(kept, (i) => timeS[i]!);
  const values = Float64Array.from(kept, (i) => value[i]!);
  const steps = new Float64Array(n - 1);
  for (let i = 1; i < n; i++) steps[i - 1] = time[i]! - time[i - 1]!;
  const stepS = Float64Array.from(steps).sort()[(n - 1) >> 1]!;
  const hole = Math.max(1, HOLE * stepS);
  const run = new Uint32Array(n);
  const area = new Float64Array(n);
  for (let i = 1, b = 0; i < n; i++) {
    while (b < breaks.length && breaks[b]! <= time[i - 1]!) b++;
    const broken = steps[i - 1]! > hole || (b < breaks.length && breaks[b]! < time[i]!);
    run[i] = run[i - 1]! + (broken ? 1 : 0);
    area[i] = broken ? 0 : area[i - 1]! + (steps[i - 1]! * (values[i]! + values[i - 1]!)) / 2;
  }
  return { time, value: values, run, stepS, area, near: { i: 0 } };
}

/** Mean of the line through the samples over `widthS` around `t`; NaN where a part of that is unknown. */
export function meanAround(s: Sampled, t: number, widthS: number): number {
  const [from, to] = [t - widthS / 2, t + widthS / 2];
  const { time, run } = s;
  if (!(from >= time[0]!) || !(to <= time[time.length - 1]!)) return Number.NaN;
  const i = indexBefore(s, from);
  let j = i;
  while (j < time.length - 2 && time[j + 1]! <= to) j++;
  if (run[i] !== run[i + 1] || run[i] !== run[j + 1]) return Number.NaN;
  return (areaAt(s, j, to) - areaAt(s, i, from)) / widthS;
}

/** Index of the last sample at or before t, at most the last but one. */
function indexBefore({ time, near }: Sampled, t: number): number {
  for (let i = near.i, k = 0; k < 8 && i < time.length - 1 && time[i]! <= t; i++, k++)
    if (time[i + 1]! > t) {
      near.i = i;
      return i;
    }
  let low = 0;
  let high = time.length - 2;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if (time[middle]! <= t) low = middle;
    else high = middle - 1;
  }
  near.i = low;
  return low;
}

function areaAt({ time, value, area }: Sampled, i: number, t: number): number {
  const d = t - time[i]!;
  const slope = (value[i + 1]! - value[i]!) / (time[i + 1]! - time[i]!);
  return area[i]! + d * (value[i]! + (slope * d) / 2);
}
