/**
 * What two messages say of a common clock: the drift of the phase between them, whether the phase stands still, whether it
 * falls on a tick, and silences that both share. Measured directly between the two, not against nominal periods.
 */
import { type Clock, lowerBound, type Silence, thinned } from './clock.ts';
import { phaseLine } from './line.ts';
import { autocorrelation, clip, clippedRms, medianInPlace, robustLine, wrap } from './robust.ts';

export interface PairEvidence {
  /** Drift of the phase difference in ppm and its standard error; null where the periods have no common beat. */
  drift: { ppm: number; errorPpm: number } | null;
  /** Phase of the slower after the faster in seconds, within ± half of `beatS`; null where it does not stand still. */
  phase: { offsetS: number; beatS: number; spreadS: number } | null;
  /** The cues, in the order of `CUES`. */
  cues: Float64Array;
  sharedSilences: number;
}

/** The cues that the logit is made of. */
export const CUES = ['driftAgainst', 'driftFor', 'tick', 'silencesFor'] as const;

export interface PairOptions {
  lengthS: number;
  stampS: number;
  /** How long a frame takes on the bus, seconds. */
  frameS: number;
  /** For a silence of one message: share of the other messages that are silent with it, by `sharesOf`. */
  shares: ReadonlyMap<Silence, number>;
}

const MOST_EVENTS = 2500;

export function pairEvidence(a: Clock, b: Clock, options: PairOptions): PairEvidence {
  const [slow, fast] = a.fittedS >= b.fittedS ? [a, b] : [b, a];
  const cues = new Float64Array(CUES.length);
  const silences = sharedSilences(slow, fast, options.shares);
  cues[3] = silences.weight;
  const evidence: PairEvidence = { drift: null, phase: null, cues, sharedSilences: silences.count };
  const ratio = ratioOf(slow.fittedS / fast.fittedS);
  if (ratio === null) return evidence;
  const beatS = fast.fittedS / ratio.q;
  const steady = slow.line.coherence > 0.7 && fast.line.coherence > 0.7;
  const time = thinned(slow.time, MOST_EVENTS);
  const phase = time.map((t) => t - nearest(fast.time, t));
  // The slow period is p beats and a little: that little is the drift to be expected from the own lines.
  const expected = (1 - (ratio.p * beatS) / slow.fittedS) * 1e6;
  const own = Math.hypot(slow.line.errorPpm, fast.line.errorPpm);
  const around = steady ? expected : 0;
  const within = steady ? clip(8 * own + (beatS / options.lengthS) * 2e6, 20, 600) : 600;
  const line = phaseLine(phase, time, beatS, {
    lengthS: options.lengthS,
    aroundPpm: around,
    withinPpm: within,
    stampS: options.stampS,
  });
  if (line === null || line.coherence <= 0.7) return evidence;
  const low = envelopeLine(slow, fast, options);
  const direct = { ppm: line.driftPpm, errorPpm: line.errorPpm };
  const drift =
    low !== null && low.errorPpm < direct.errorPpm
      ? { ppm: low.ppm + expected, errorPpm: low.errorPpm }
      : direct;
  evidence.drift = drift;
  const odds = driftOdds(drift.ppm, drift.errorPpm);
  cues[0] = Math.min(0, odds);
  cues[1] = Math.max(0, odds);
  if (line.stillness > 0.8 * line.coherence) {
    const spreadS = 3 * options.frameS + Math.hypot(line.roughS, line.spreadS);
    cues[2] = tickOdds(line.offsetS, beatS, spreadS);
    evidence.phase = { offsetS: line.offsetS, beatS, spreadS };
  }
  return evidence;
}

/**
 * ln of how much likelier drift `d` is under one clock than under two: same = 0.55 N(0, se² + 0.05²) + 0.41 N(0, se² +
 * 0.35²), different = 0.09 even within ±√(5² + (1.7 se)²) and 0.91 Laplace of scale √(90² + se²), with 4 % of pairs of one
 * unit drifting like different ones.
 */
export function driftOdds(d: number, se: number): number {
  const same = 0.55 * normal(d, Math.hypot(se, 0.05)) + 0.41 * normal(d, Math.hypot(se, 0.35));
  const close = Math.hypot(5, 1.7 * se);
  const scale = Math.hypot(90, se);
  const different =
    (Math.abs(d) < close ? 0.09 / (2 * close) : 0) + (0.91 * Math.exp(-Math.abs(d) / scale)) / (2 * scale);
  return clip(Math.log((same + 0.04 * different) / different), -3.2, 6);
}

/** Steps in milliseconds on which timers of units usually run; shares of the beat by whole numbers. */
const TICK_PARTS = [2, 4, 5, 10, 20, 25, 40, 50, 100];

/** ln of how much likelier phase `c` is where both are sent on ticks of one timer than where it is any. */
function tickOdds(c: number, beatS: number, tau: number): number {
  let odds = 0.35 + 0.3 * nearTick(c, beatS, tau);
  for (const part of TICK_PARTS) {
    const tick = beatS / part;
    odds += (0.35 / TICK_PARTS.length) * (tick >= 0.004 && tick <= 0.26 ? nearTick(c, tick, tau) : 1);
  }
  return Math.log(odds);
}

function nearTick(c: number, tick: number, tau: number): number {
  const away = Math.abs(wrap(c, tick));
  const reach = tick / (2 * tau);
  return (reach * Math.exp(-away / tau)) / -Math.expm1(-reach);
}

/** Least p/q with q ≤ 5 near `ratio`; the tolerance shrinks where p and q are so large that any ratio is near one. */
function ratioOf(ratio: number): { p: number; q: number } | null {
  for (let q = 1; q <= 5; q++) {
    const p = Math.round(ratio * q);
    if (p < q) continue;
    const tolerance = Math.min(800e-6, 0.15 / (p * q));
    if (Math.abs((ratio * q) / p - 1) < tolerance) return { p, q };
  }
  return null;
}

/** Drift between the lower envelopes of both, beyond what their periods differ. */
function envelopeLine(
  slow: Clock,
  fast: Clock,
  options: PairOptions,
): { ppm: number; errorPpm: number } | null {
  const { centre } = slow.envelope;
  const x: number[] = [];
  const y: number[] = [];
  for (let b = 0; b < centre.length; b++) {
    const difference = (slow.envelope.level[b] as number) - (fast.envelope.level[b] as number);
    if (Number.isNaN(difference)) continue;
    x.push(centre[b] as number);
    y.push(difference);
  }
  if (x.length < 8) return null;
  const xs = Float64Array.from(x);
  const ys = Float64Array.from(y);
  const middle = ((xs[0] as number) + (xs[xs.length - 1] as number)) / 2;
  const offset = medianInPlace(ys.slice());
  for (let k = 0; k < ys.length; k++) ys[k] = (ys[k] as number) - offset;
  const { at, slope } = robustLine(xs, ys, new Float64Array(xs.length).fill(1), middle);
  const rest = ys.map((v, k) => v - at - slope * ((xs[k] as number) - middle));
  const rho = clip((autocorrelation(rest) * rest.length) / (rest.length + 6), 0, 0.9);
  let moment = 0;
  for (const t of xs) moment += (t - middle) ** 2;
  const noise = Math.max(clippedRms(rest), options.stampS / 3.5);
  const error = (noise * Math.sqrt((1 + rho) / (1 - rho)) * (1 + 4 / (rest.length - 2))) / Math.sqrt(moment);
  return { ppm: slope * 1e6, errorPpm: error * 1e6 };
}

/** Silences of both that begin and end together speak for one sender, the more the fewer others have them. */
function sharedSilences(a: Clock, b: Clock, shares: ReadonlyMap<Silence, number>) {
  let weight = 0;
  let count = 0;
  const slack = a.periodS + b.periodS + 0.02;
  for (const [one, other] of [
    [a, b],
    [b, a],
  ] as const) {
    for (const silence of one.silences) {
      if (!other.silences.some((s) => together(s, silence, slack))) continue;
      weight += Math.max(0, -Math.log(shares.get(silence) ?? 1) - 0.1) / 2;
      count++;
    }
  }
  return { weight: Math.min(4, weight), count: count / 2 };
}

/** For each silence the share of the other messages that are silent with it. */
export function sharesOf(clocks: readonly Clock[]): Map<Silence, number> {
  const shares = new Map<Silence, number>();
  for (const clock of clocks) {
    for (const silence of clock.silences) {
      let with_ = 0;
      for (const other of clocks) {
        const slack = clock.periodS + other.periodS + 0.02;
        if (other !== clock && other.silences.some((s) => together(s, silence, slack))) with_++;
      }
      shares.set(silence, with_ / Math.max(1, clocks.length - 1));
    }
  }
  return shares;
}

function together(a: Silence, b: Silence, slack: number): boolean {
  return Math.abs(a.fromS - b.fromS) < slack && Math.abs(a.toS - b.toS) < slack;
}

/** The stamp nearest to `t`. */
function nearest(time: Float64Array, t: number): number {
  const at = lowerBound(time, t);
  const after = time[at];
  const before = time[at - 1];
  if (after === undefined) return before as number;
  if (before === undefined) return after;
  return after - t < t - before ? after : before;
}

function normal(x: number, deviation: number): number {
  return Math.exp(-0.5 * (x / deviation) ** 2) / (deviation * Math.sqrt(2 * Math.PI));
}
