/** Period, jitter and manner of sending of one message, from time stamps alone and robust against gaps and late stamps. */

export type TimingClass = 'periodic' | 'onChange' | 'mixed' | 'burst' | 'tooFew';

export interface Timing {
  /** null where the message is not sent periodically. For `burst`: from burst to burst. */
  periodMs: number | null;
  /** 1.4826 × median absolute deviation of the gaps, so a standard deviation where jitter is normal; null where too few. */
  jitterMs: number | null;
  timing: TimingClass;
  /**
   * Frames (bursts, where `timing` is `burst`) that are missing by gaps of one and a half periods up to an outage: an estimate, since
   * a sender may also leave one out. null where there is no period to count by.
   */
  missing: number | null;
  /** Silences longer than 3.3 periods and a quarter of a second: the unit restarted, or the message was not sent. */
  outages: Outage[];
}

/** Seconds: the last stamp before and the first after. */
export interface Outage {
  fromS: number;
  toS: number;
}

/** Fewer frames than this say nothing about how a message is sent. */
export const FRAMES_FOR_TIMING = 6;

/**
 * `time`: seconds in recorded order; `begins`: 1 where a recording begins, such gaps are left out.
 *
 * A message is periodic when more than four fifths of its gaps lie within 0.3 T of T, 2 T or 3 T (frames lost or two
 * recordings joined do not count against it), mixed when more than half do: a period with frames on change in between.
 */
export function timingOf(time: Float64Array, begins: Uint8Array): Timing {
  const gaps = gapsOf(time, begins);
  if (time.length < FRAMES_FOR_TIMING || gaps.length < FRAMES_FOR_TIMING - 1) {
    return { periodMs: null, jitterMs: null, timing: 'tooFew', missing: null, outages: [] };
  }
  const all = describe(gaps, time, begins);
  if (all.share > 0.8) {
    return { ...spread(gaps, all.period), timing: 'periodic', ...lossesOf(time, begins, all.period) };
  }
  const cut = burstCut(gaps);
  if (cut !== null) {
    const { firsts, starts } = firstOfBursts(time, begins, cut);
    const between = gapsOf(firsts, starts);
    if (between.length >= FRAMES_FOR_TIMING - 1) {
      const bursts = describe(between, firsts, starts);
      if (bursts.share > 0.8) {
        const losses = lossesOf(firsts, starts, bursts.period);
        return { ...spread(between, bursts.period), timing: 'burst', ...losses };
      }
    }
  }
  const base = dominantGap(gaps);
  const none = { missing: null, outages: [] };
  if (base !== null) return { ...spread(gaps, base), timing: 'mixed', ...none };
  return { periodMs: null, jitterMs: spread(gaps, all.period).jitterMs, timing: 'onChange', ...none };
}

/** Period by differences over growing spans, and the share of gaps that lie near one, two or three periods. */
function describe(gaps: Float64Array, time: Float64Array, begins: Uint8Array) {
  const period = refined(median(gaps), time, begins);
  if (period <= 0) return { period, share: 0 };
  const near = gaps.filter((gap) => {
    const multiple = Math.round(gap / period);
    return multiple >= 1 && multiple <= 3 && Math.abs(gap - multiple * period) < 0.3 * period;
  });
  // A message whose usual gap is a multiple is not understood; most gaps must be single periods.
  const single = gaps.filter((gap) => Math.abs(gap - period) < 0.3 * period);
  return { period, share: single.length > 0.6 * gaps.length ? near.length / gaps.length : 0 };
}

/** T ← median(t[k+m] − t[k]) / round(that / T) for m = 2, 4, 8 …: stamps that come late or bunched average out. */
function refined(start: number, time: Float64Array, begins: Uint8Array): number {
  if (start <= 0) return start;
  const session = new Uint32Array(time.length);
  for (let i = 1; i < time.length; i++) session[i] = (session[i - 1] as number) + (begins[i] as number);
  let period = start;
  for (let m = 2; m <= time.length / 3; m *= 2) {
    const spans: number[] = [];
    const stride = Math.max(1, Math.floor(time.length / 2000));
    for (let k = 0; k + m < time.length; k += stride) {
      if (session[k] === session[k + m]) spans.push((time[k + m] as number) - (time[k] as number));
    }
    if (spans.length < 3) break;
    const span = median(Float64Array.from(spans));
    const periods = Math.round(span / period);
    // Where a span holds more periods than frames by far, frames are missing and the step would only add error.
    if (periods < m || periods > 1.5 * m) break;
    period = span / periods;
  }
  return period;
}

function spread(gaps: Float64Array, periodS: number): { periodMs: number; jitterMs: number } {
  const middle = median(gaps);
  const deviation = median(gaps.map((gap) => Math.abs(gap - middle)));
  return { periodMs: periodS * 1000, jitterMs: 1.4826 * deviation * 1000 };
}

/** Longer gaps are silences, and nothing says how many frames they would have held. */
const LOST_UP_TO = 3.3;
const OUTAGE_S = 0.25;

function lossesOf(
  time: Float64Array,
  begins: Uint8Array,
  periodS: number,
): Pick<Timing, 'missing' | 'outages'> {
  const silence = Math.max(LOST_UP_TO * periodS, OUTAGE_S);
  const outages: Outage[] = [];
  let missing = 0;
  for (let i = 1; i < time.length; i++) {
    const fromS = time[i - 1] as number;
    const toS = time[i] as number;
    if (begins[i] || toS - fromS < 1.5 * periodS) continue;
    if (toS - fromS > silence) outages.push({ fromS, toS });
    else missing += Math.round((toS - fromS) / periodS) - 1;
  }
  return { missing, outages };
}

/** The gap that more than half of all gaps lie near, where shorter ones make up most of the rest. */
function dominantGap(gaps: Float64Array): number | null {
  const sorted = gaps.slice().sort();
  let best = 0;
  let from = 0;
  let at = 0;
  for (let to = 0; to < sorted.length; to++) {
    while ((sorted[to] as number) > 1.2 * (sorted[from] as number)) from++;
    if (to - from + 1 > best) {
      best = to - from + 1;
      at = from;
    }
  }
  if (best <= 0.5 * sorted.length) return null;
  const inside = median(sorted.subarray(at, at + best));
  const longer = sorted.filter((gap) => gap > 1.3 * inside).length;
  return inside > 0 && longer < 0.25 * sorted.length ? inside : null;
}

/**
 * Length that parts gaps inside bursts from gaps between them: some 20 to 97 % of gaps below, at least 5 above, the
 * medians of both sides more than eight times apart, and hardly a gap within a factor of two of it.
 */
function burstCut(gaps: Float64Array): number | null {
  const sorted = gaps.slice().sort();
  let best: number | null = null;
  let widest = 8;
  for (let cut = 0.0005; cut <= 2; cut *= 1.2840254) {
    const below = sorted.filter((g) => g < cut);
    const above = sorted.filter((g) => g >= cut);
    if (below.length < 0.2 * sorted.length || below.length > 0.97 * sorted.length || above.length < 5)
      continue;
    if (sorted.filter((g) => g > cut / 2 && g < 2 * cut).length > 0.03 * sorted.length) continue;
    const apart = median(above) / Math.max(median(below), 1e-9);
    if (apart > widest) {
      widest = apart;
      best = cut;
    }
  }
  return best;
}

function firstOfBursts(time: Float64Array, begins: Uint8Array, cut: number) {
  const firsts: number[] = [];
  const starts: number[] = [];
  for (let i = 0; i < time.length; i++) {
    const first = begins[i] === 1;
    if (!first && (time[i] as number) - (time[i - 1] as number) < cut) continue;
    firsts.push(time[i] as number);
    starts.push(first ? 1 : 0);
  }
  return { firsts: Float64Array.from(firsts), starts: Uint8Array.from(starts) };
}

function gapsOf(time: Float64Array, begins: Uint8Array): Float64Array {
  const gaps = new Float64Array(Math.max(0, time.length - 1));
  let n = 0;
  for (let i = 1; i < time.length; i++) {
    const gap = (time[i] as number) - (time[i - 1] as number);
    if (!begins[i] && gap >= 0) gaps[n++] = gap;
  }
  return gaps.subarray(0, n);
}

function median(values: Float64Array): number {
  const sorted = values.slice().sort();
  const n = sorted.length;
  if (n === 0) return Number.NaN;
  const upper = sorted[n >> 1] as number;
  return n % 2 === 1 ? upper : (upper + (sorted[(n >> 1) - 1] as number)) / 2;
}
