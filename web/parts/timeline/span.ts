/** Stretches of time on an axis, their ticks, and times in words. */

export interface Span {
  from: number;
  to: number;
}

/** The closest look: about the length of a bit at 50 kbit/s, so that two frames never share a pixel. */
export const LEAST_S = 2e-4;

export function widthOf({ from, to }: Span): number {
  return to - from;
}

/** `span` moved and if need be narrowed until it lies within `bounds`. */
export function within(span: Span, bounds: Span): Span {
  const width = Math.min(Math.max(widthOf(span), LEAST_S), widthOf(bounds));
  const middle = (span.from + span.to) / 2;
  const from = Math.min(Math.max(middle - width / 2, bounds.from), bounds.to - width);
  return { from, to: from + width };
}

/** `factor` above 1 shows more; what is at `fixed` stays where it is. */
export function zoomed({ from, to }: Span, factor: number, fixed: number, bounds: Span): Span {
  const least = Math.min(widthOf(bounds), Math.max(LEAST_S, (to - from) * factor));
  const real = least / (to - from);
  return within({ from: fixed - (fixed - from) * real, to: fixed + (to - fixed) * real }, bounds);
}

export function moved({ from, to }: Span, byS: number, bounds: Span): Span {
  return within({ from: from + byS, to: to + byS }, bounds);
}

/** Round times, not more than `most` of them, and the decimals that tell them apart. */
export function ticksOf({ from, to }: Span, most: number): { times: number[]; decimals: number } {
  const least = (to - from) / Math.max(1, most);
  const power = 10 ** Math.floor(Math.log10(least));
  const step = STEPS.map((n) => n * power).find((n) => n >= least * 0.999) ?? 10 * power;
  const times: number[] = [];
  for (let k = Math.ceil(from / step); k * step <= to; k++) times.push(k * step);
  return { times, decimals: decimalsOf(step) };
}

const STEPS = [1, 2, 5, 10];

/** Decimals of a second that a step of this size needs. */
export function decimalsOf(stepS: number): number {
  return Math.min(6, Math.max(0, -Math.floor(Math.log10(stepS * 1.001))));
}

/** A time to a hundredth of what is shown, in seconds: "12.345". */
export function timeText(seconds: number, span: Span): string {
  return seconds.toFixed(decimalsOf(widthOf(span) / 500));
}

/** How long something lasts: "12.5 s", "250 ms", "400 µs". */
export function lengthText(seconds: number): string {
  if (seconds >= 120) return `${Math.floor(seconds / 60)} min ${(seconds % 60).toFixed(0)} s`;
  const [value, unit] =
    seconds >= 1 ? [seconds, 's'] : seconds >= 1e-3 ? [seconds * 1e3, 'ms'] : [seconds * 1e6, 'µs'];
  return `${Number(value.toPrecision(3))} ${unit}`;
}
