/** The clock of a reference channel: what is known of it, and its times on the clock of the capture. */
import type { Reference } from '../model.ts';

/**
 * `accepted`: a person accepted an alignment. `typed`: points typed on the clock of the capture. `dates`: both have dates
 * and nobody has compared the clocks. `unknown`: nothing ties the two.
 */
export type ClockState = 'accepted' | 'typed' | 'dates' | 'unknown';

export interface ClockKnown {
  state: ClockState;
  /** time in the capture = time + offsetS + driftPpm × 10⁻⁶ × time; NaN where unknown. */
  offsetS: number;
  driftPpm: number;
}

/** `captureOriginNs` is 0n where the capture has relative times only. */
export function clockOf({ file, series }: Reference, captureOriginNs: bigint): ClockKnown {
  if (file.clock !== undefined)
    return { state: 'accepted', offsetS: file.clock.offsetS, driftPpm: file.clock.driftPpm };
  if (file.file === undefined) return { state: 'typed', offsetS: 0, driftPpm: 0 };
  const originNs = series?.originNs ?? null;
  if (originNs === null || captureOriginNs === 0n)
    return { state: 'unknown', offsetS: Number.NaN, driftPpm: 0 };
  return { state: 'dates', offsetS: Number(originNs - captureOriginNs) / 1e9, driftPpm: 0 };
}

/** Times of the channel in seconds from the first frame of the capture; NaN where its clock is unknown. */
export function captureTimes(timeS: Float64Array, { offsetS, driftPpm }: ClockKnown): Float64Array {
  return timeS.map((t) => t + offsetS + driftPpm * 1e-6 * t);
}
