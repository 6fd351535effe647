/**
 * What the stamps of one message say of the clock it is sent from: period, a line through its phases, its lower envelope
 * (waiting for the bus and the host only ever make a stamp late) and when it was silent.
 */
import { type PhaseLine, phaseLine } from './line.ts';
import { clip, medianInPlace, wrap } from './robust.ts';

export interface Clock {
  /** Stamps of the message, or of the first frame of each burst; seconds, rising. */
  time: Float64Array;
  periodS: number;
  /** Line of the phases within `periodS`; its drift makes `fittedS`, the period that fits best. */
  line: PhaseLine;
  fittedS: number;
  envelope: Envelope;
  silences: Silence[];
}

/** Low quantile of the residuals about the own line, block by block; NaN where a block has too few events. */
export interface Envelope {
  centre: Float64Array;
  level: Float64Array;
}

/** From the last stamp before to the first after; the start or end of the recording where there is none. */
export interface Silence {
  fromS: number;
  toS: number;
}

export interface ClockOptions {
  /** The recording, seconds. */
  fromS: number;
  toS: number;
  stampS: number;
}

/** Fewer events than this say nothing of a clock. */
export const EVENTS_NEEDED = 14;

/** The clock, or why there is none to be seen. */
export function clockOf(all: Float64Array, options: ClockOptions): Clock | 'tooFew' | 'notRegular' {
  if (all.length < EVENTS_NEEDED) return 'tooFew';
  const time = burstFirsts(all);
  if (time.length < EVENTS_NEEDED) return 'tooFew';
  const periodS = periodOf(time);
  if (!isRegular(time, periodS)) return 'notRegular';
  const lengthS = options.toS - options.fromS;
  const some = thinned(time, 4000);
  const phase = some.map((t) => wrap(t - (time[0] as number), periodS));
  const line = phaseLine(phase, some, periodS, {
    lengthS,
    aroundPpm: 0,
    // Differences over a third of the recording bound the error of the period.
    withinPpm: clip((periodS / (time[time.length - 1]! - time[0]!)) * 3e6, 60, 2000),
    stampS: options.stampS,
  });
  if (line === null) return 'tooFew';
  const fittedS = periodS * (1 + line.driftPpm * 1e-6);
  return {
    time,
    periodS,
    line,
    fittedS,
    envelope: envelopeOf(time, periodS, line, options),
    silences: silencesOf(time, periodS, options),
  };
}

/** The first frame of each burst, where the message is sent in bursts; otherwise all frames. */
export function burstFirsts(time: Float64Array): Float64Array {
  const cut = burstCut(someGaps(time));
  return cut === null ? time : time.filter((t, k) => k === 0 || t - (time[k - 1] as number) >= cut);
}

/**
 * T from the median gap, then T ← median(t[k+m] − t[k]) / round(that / T) for m = 2, 4, 8 … n/3: stamps that come late or
 * bunched average out.
 */
export function periodOf(time: Float64Array): number {
  let period = medianInPlace(someGaps(time));
  if (!(period > 0)) period = ((time[time.length - 1] as number) - (time[0] as number)) / (time.length - 1);
  if (!(period > 0)) return 0;
  for (let m = 2; m <= time.length / 3; m *= 2) {
    const stride = Math.max(1, Math.floor((time.length - m) / 1500));
    const spans = new Float64Array(Math.ceil((time.length - m) / stride));
    let n = 0;
    for (let k = 0; k + m < time.length; k += stride)
      spans[n++] = (time[k + m] as number) - (time[k] as number);
    const span = medianInPlace(spans.subarray(0, n));
    const periods = Math.round(span / period);
    if (periods > 0) period = span / periods;
  }
  return period;
}

/** More than 80 % of gaps near one to three periods, or, where a host bunches frames, 85 % of spans over four gaps near four. */
export function isRegular(time: Float64Array, period: number): boolean {
  if (!(period > 0.002)) return false;
  let near = 0;
  for (let k = 1; k < time.length; k++) {
    const gap = (time[k] as number) - (time[k - 1] as number);
    const periods = Math.round(gap / period);
    if (periods >= 1 && periods <= 3 && Math.abs(gap - periods * period) < 0.3 * period) near++;
  }
  if (near > 0.8 * (time.length - 1)) return true;
  let four = 0;
  for (let k = 4; k < time.length; k++) {
    const span = (time[k] as number) - (time[k - 4] as number);
    if (Math.abs(span - 4 * period) < 0.8 * period) four++;
  }
  return four > 0.85 * (time.length - 4);
}

/** Silences longer than 3.3 periods and 0.25 s, those at the start and the end of the recording included. */
function silencesOf(time: Float64Array, period: number, { fromS, toS }: ClockOptions): Silence[] {
  const least = Math.max(3.3 * period, 0.25);
  const silences: Silence[] = [];
  let before = fromS;
  for (const t of time) {
    if (t - before > least) silences.push({ fromS: before, toS: t });
    before = t;
  }
  if (toS - before > least) silences.push({ fromS: before, toS });
  return silences;
}

function envelopeOf(
  time: Float64Array,
  period: number,
  line: PhaseLine,
  { fromS, toS }: ClockOptions,
): Envelope {
  const lengthS = toS - fromS;
  const blocks = Math.round(clip(lengthS / 15, 24, 60));
  const centre = new Float64Array(blocks);
  const level = new Float64Array(blocks).fill(Number.NaN);
  const first = time[0] as number;
  const drift = line.driftPpm * 1e-6;
  let k = 0;
  for (let b = 0; b < blocks; b++) {
    const end = fromS + ((b + 1) * lengthS) / blocks;
    centre[b] = end - lengthS / blocks / 2;
    const from = k;
    while (k < time.length && ((time[k] as number) <= end || b === blocks - 1)) k++;
    if (k - from < 3) continue;
    const stride = Math.ceil((k - from) / 400);
    const rest: number[] = [];
    for (let i = from; i < k; i += stride) {
      const t = time[i] as number;
      rest.push(wrap(wrap(t - first, period) - line.offsetS - drift * (t - line.middleS), period));
    }
    const sorted = Float64Array.from(rest).sort();
    level[b] = quantile(sorted, 0.12);
  }
  return { centre, level };
}

function quantile(sorted: Float64Array, share: number): number {
  const at = share * (sorted.length - 1);
  const low = Math.floor(at);
  const a = sorted[low] as number;
  const b = sorted[Math.min(low + 1, sorted.length - 1)] as number;
  return a + (at - low) * (b - a);
}

/**
 * Length that parts gaps inside bursts from gaps between them: 20–97 % of gaps below, at least 8 above, medians of both
 * sides more than eight times apart, under 3 % within a factor of two of it.
 */
function burstCut(gaps: Float64Array): number | null {
  const sorted = gaps.sort();
  const below = (x: number) => lowerBound(sorted, x);
  const n = sorted.length;
  for (let cut = 0.001; cut <= 2; cut *= 1.2840254) {
    const low = below(cut);
    if (low < 0.2 * n || low > 0.97 * n || n - low < 8) continue;
    if (below(2 * cut) - below(cut / 2) > 0.03 * n) continue;
    const inside = sorted[low >> 1] as number;
    const between = sorted[(low + n) >> 1] as number;
    if (between > 8 * Math.max(inside, 1e-9)) return cut;
  }
  return null;
}

/** At most 20,000 gaps, spread over the recording unevenly, so that no rhythm of bursts is in step with the choice. */
function someGaps(time: Float64Array): Float64Array {
  const all = time.length - 1;
  if (all <= MOST_GAPS) return gapsOf(time);
  const gaps = new Float64Array(MOST_GAPS);
  for (let k = 0; k < MOST_GAPS; k++) {
    const golden = (k * 0.6180339887498949) % 1;
    const at = Math.floor(((k + golden) * all) / MOST_GAPS);
    gaps[k] = (time[at + 1] as number) - (time[at] as number);
  }
  return gaps;
}

const MOST_GAPS = 20_000;

function gapsOf(time: Float64Array): Float64Array {
  const gaps = new Float64Array(Math.max(0, time.length - 1));
  for (let k = 1; k < time.length; k++) gaps[k - 1] = (time[k] as number) - (time[k - 1] as number);
  return gaps;
}

/** At most `limit` of them, evenly over the recording. */
export function thinned(values: Float64Array, limit: number): Float64Array {
  if (values.length <= limit) return values;
  const some = new Float64Array(limit);
  for (let k = 0; k < limit; k++) some[k] = values[Math.floor((k * values.length) / limit)] as number;
  return some;
}

/** First place whose value is at least `x`. */
export function lowerBound(sorted: Float64Array, x: number): number {
  let from = 0;
  let to = sorted.length;
  while (from < to) {
    const mid = (from + to) >> 1;
    if ((sorted[mid] as number) < x) from = mid + 1;
    else to = mid;
  }
  return from;
}
