/**
 * A straight line through phases that are known only up to a whole number of periods: how fast two clocks drift apart,
 * and how sure that is. Own derivation; the search is the periodogram of block sums, the rest weighted least squares.
 */
import { autocorrelation, clip, clippedRms, medianInPlace, robustLine, wrap } from './robust.ts';

export interface PhaseLine {
  /** Phase at `middleS`, seconds, within ±g/2. */
  offsetS: number;
  driftPpm: number;
  /** Standard error of the drift. */
  errorPpm: number;
  /** How well the phases lie on the line, 0 … 1, and on a line without drift. */
  coherence: number;
  stillness: number;
  /** Roughness of the blocks about the line, and spread of single events about their block; seconds. */
  roughS: number;
  spreadS: number;
  middleS: number;
}

export interface LineOptions {
  /** Length of the recording in seconds. */
  lengthS: number;
  /** Where to look for the drift: `aroundPpm` ± `withinPpm`. */
  aroundPpm: number;
  withinPpm: number;
  /** Resolution of the stamps in seconds. */
  stampS: number;
}

const MOST_STEPS = 2000;

/**
 * Fits phase = offset + drift · time modulo `g`; `phase` and `time` in seconds, `time` rising. Null where there are too few
 * events for six blocks.
 *
 * se(d) = max(V, 1.25 max(W, stamp/3.5) / √(events per block)) · √((1 + ρ)/(1 − ρ)) · (1 + 4/(B − 2)) / √Σ(t_b − t̄)²,
 * with ρ the lag-1 autocorrelation of the block residuals: a message is held up by the same foreign message for as long as
 * the two beat slowly past each other, so neighbouring blocks are not independent.
 */
export function phaseLine(
  phase: Float64Array,
  time: Float64Array,
  g: number,
  options: LineOptions,
): PhaseLine | null {
  const blocks = blocksOf(time, options.lengthS);
  if (blocks === null) return null;
  const { starts, centre, middleS } = blocks;
  const count = centre.length;
  const n = time.length;
  const re = new Float64Array(count);
  const im = new Float64Array(count);
  const turn = (2 * Math.PI) / g;
  const around = options.aroundPpm * 1e-6;
  for (let b = 0; b < count; b++) {
    for (let k = starts[b] as number; k < (starts[b + 1] as number); k++) {
      // Turned back by the drift to be expected, so that events of one block stay in step with each other.
      const angle = turn * ((phase[k] as number) - around * ((time[k] as number) - middleS));
      re[b] = (re[b] as number) + Math.cos(angle);
      im[b] = (im[b] as number) + Math.sin(angle);
    }
  }
  const best = strongest(re, im, centre, middleS, g, options);
  const stillness = Math.hypot(...turnedSum(re, im, centre, middleS, turn, -around)) / n;
  const [sumRe, sumIm] = turnedSum(re, im, centre, middleS, turn, best);
  const coherence = Math.hypot(sumRe, sumIm) / n;
  let drift = best + around;
  let offset = Math.atan2(sumIm, sumRe) / turn;
  const residual = new Float64Array(count);
  const weight = Float64Array.from(centre, (_, b) => (starts[b + 1] as number) - (starts[b] as number));
  for (let round = 0; round < 3; round++) {
    for (let b = 0; b < count; b++) {
      residual[b] = blockMedian(phase, time, starts, b, offset, drift, middleS, g);
    }
    const { at, slope } = robustLine(centre, residual, weight, middleS);
    offset += at;
    drift += slope;
    for (let b = 0; b < count; b++)
      residual[b] = (residual[b] as number) - at - slope * ((centre[b] as number) - middleS);
    if (Math.abs(slope) < 1e-9 && Math.abs(at) < 1e-7) break;
  }
  const roughS = clippedRms(residual);
  const spreadS = spreadAboutBlocks(phase, time, starts, offset, drift, middleS, g, residual);
  const rho = clip((autocorrelation(residual) * count) / (count + 6), 0, 0.9);
  let moment = 0;
  for (const t of centre) moment += (t - middleS) ** 2;
  const floor = (1.25 * Math.max(spreadS, options.stampS / 3.5)) / Math.sqrt(n / count);
  const error =
    (Math.max(roughS, floor) * Math.sqrt((1 + rho) / (1 - rho)) * (1 + 4 / (count - 2))) / Math.sqrt(moment);
  return {
    offsetS: wrap(offset, g),
    driftPpm: drift * 1e6,
    errorPpm: error * 1e6,
    coherence,
    stillness,
    roughS,
    spreadS,
    middleS,
  };
}

/** Blocks of even length over the events, those without events left out; at most a third as many as events. */
function blocksOf(time: Float64Array, lengthS: number) {
  const n = time.length;
  const wanted = Math.floor(Math.min(clip(lengthS / 15, 24, 120), n / 3));
  const first = time[0] as number;
  const span = (time[n - 1] as number) - first;
  if (wanted < 6 || !(span > 0)) return null;
  const starts: number[] = [];
  const centre: number[] = [];
  let sum = 0;
  let block = -1;
  for (let k = 0; k < n; k++) {
    const t = time[k] as number;
    const b = Math.min(wanted - 1, Math.floor(((t - first) / span) * wanted));
    if (b !== block) {
      if (block >= 0) centre.push(sum / (k - (starts.at(-1) as number)));
      starts.push(k);
      block = b;
      sum = 0;
    }
    sum += t;
  }
  centre.push(sum / (n - (starts.at(-1) as number)));
  starts.push(n);
  if (centre.length < 6) return null;
  return { starts: Uint32Array.from(starts), centre: Float64Array.from(centre), middleS: first + span / 2 };
}

/** The drift (relative to the expected one) at which the block sums add up best, by a grid and a parabola through its top. */
function strongest(
  re: Float64Array,
  im: Float64Array,
  centre: Float64Array,
  middleS: number,
  g: number,
  options: LineOptions,
): number {
  const span = (centre[centre.length - 1] as number) - (centre[0] as number);
  const within = options.withinPpm * 1e-6;
  const step = Math.max(g / (5 * span), (2 * within) / MOST_STEPS);
  const half = Math.max(1, Math.ceil(within / step));
  const size = 2 * half + 1;
  const sumRe = new Float64Array(size);
  const sumIm = new Float64Array(size);
  for (let b = 0; b < re.length; b++) {
    const dt = (centre[b] as number) - middleS;
    const from = (-2 * Math.PI * -half * step * dt) / g;
    const by = (-2 * Math.PI * step * dt) / g;
    const cosBy = Math.cos(by);
    const sinBy = Math.sin(by);
    const cosFrom = Math.cos(from);
    const sinFrom = Math.sin(from);
    let x = (re[b] as number) * cosFrom - (im[b] as number) * sinFrom;
    let y = (re[b] as number) * sinFrom + (im[b] as number) * cosFrom;
    for (let s = 0; s < size; s++) {
      sumRe[s] = (sumRe[s] as number) + x;
      sumIm[s] = (sumIm[s] as number) + y;
      const turned = x * cosBy - y * sinBy;
      y = x * sinBy + y * cosBy;
      x = turned;
    }
  }
  let best = 0;
  let top = -1;
  const power = (s: number) => (sumRe[s] as number) ** 2 + (sumIm[s] as number) ** 2;
  for (let s = 0; s < size; s++) {
    const p = power(s);
    if (p > top) {
      top = p;
      best = s;
    }
  }
  let fraction = 0;
  if (best > 0 && best < size - 1) {
    const left = power(best - 1);
    const right = power(best + 1);
    const bend = left - 2 * top + right;
    if (bend < 0) fraction = clip((0.5 * (left - right)) / bend, -0.5, 0.5);
  }
  return (best - half + fraction) * step;
}

function turnedSum(
  re: Float64Array,
  im: Float64Array,
  centre: Float64Array,
  middleS: number,
  turn: number,
  drift: number,
): [number, number] {
  let x = 0;
  let y = 0;
  for (let b = 0; b < re.length; b++) {
    const angle = -turn * drift * ((centre[b] as number) - middleS);
    const c = Math.cos(angle);
    const s = Math.sin(angle);
    x += (re[b] as number) * c - (im[b] as number) * s;
    y += (re[b] as number) * s + (im[b] as number) * c;
  }
  return [x, y];
}

function blockMedian(
  phase: Float64Array,
  time: Float64Array,
  starts: Uint32Array,
  b: number,
  offset: number,
  drift: number,
  middleS: number,
  g: number,
): number {
  const from = starts[b] as number;
  const to = starts[b + 1] as number;
  const rest = new Float64Array(to - from);
  for (let k = from; k < to; k++) {
    rest[k - from] = wrap((phase[k] as number) - offset - drift * ((time[k] as number) - middleS), g);
  }
  return medianInPlace(rest);
}

function spreadAboutBlocks(
  phase: Float64Array,
  time: Float64Array,
  starts: Uint32Array,
  offset: number,
  drift: number,
  middleS: number,
  g: number,
  residual: Float64Array,
): number {
  const away = new Float64Array(time.length);
  for (let b = 0; b < residual.length; b++) {
    for (let k = starts[b] as number; k < (starts[b + 1] as number); k++) {
      const r = wrap((phase[k] as number) - offset - drift * ((time[k] as number) - middleS), g);
      away[k] = Math.abs(r - (residual[b] as number));
    }
  }
  return 1.4826 * medianInPlace(away);
}
