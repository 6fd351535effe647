/**
 * Scale, offset and delay of a signal from a reference channel. The factor of a dictionary is one that somebody chose, so
 * a plausible one within the bounds is named where the data single it out; else the bounds stand for themselves.
 */
import { chanceOf, correlation, effectiveCount, median, quantile, ranksOf } from '../relations/statistics.ts';
import { counted } from '../words.ts';
import type { Bounded, RawSeries, ReferenceChannel, ScaleFit } from './model.ts';
import { type Pairs, pairMaker } from './pairs.ts';
import { plausibleFactor } from './plausible.ts';
import { type RobustLine, robustLine } from './robustLine.ts';

export interface ScaleOptions {
  /** Largest delay either way, seconds. */
  mostLagS?: number;
  /** Share by which the reference itself may be wrong: tyres, alignment, calibration. */
  trueness?: number;
}

const LEAST_SAMPLES = 12;
const LEAST_EFFECTIVE = 6;
const FOLLOWS = 0.6;
const CHANCE = 1e-3;
/** Departures from the line and from the curve must differ by this much for a curve. */
const BENT = 2;
const KNOTS = 8;

/** How `signal` relates to `reference`; both on one clock. */
export function fitScale(
  signal: RawSeries,
  reference: ReferenceChannel,
  { mostLagS = 3, trueness = 0.015 }: ScaleOptions = {},
): ScaleFit {
  const pairsAt = pairMaker(signal, reference);
  const lag = bestLag(pairsAt, mostLagS);
  const pairs = pairsAt(lag.value);
  const samples = pairs.raw.length;
  const empty = emptyFit(lag, samples);
  if (samples < LEAST_SAMPLES) {
    return told(empty, `Only ${samples} moments at which both are known: record both for longer, moving.`);
  }
  const pearson = correlation(pairs.raw, pairs.reference);
  const spearman = correlation(ranksOf(pairs.raw), ranksOf(pairs.reference));
  const effective = effectiveCount(pairs.raw, pairs.reference);
  const figures = { ...empty, pearson, spearman, effective };
  if (effective < LEAST_EFFECTIVE) {
    return told(
      figures,
      `${counted(samples)} samples are worth ${effective.toFixed(1)} independent ones: move the quantity up and down several times.`,
    );
  }
  const closest = Math.abs(pearson) > Math.abs(spearman) ? pearson : spearman;
  if (Math.abs(closest) < FOLLOWS || chanceOf(closest, effective) > CHANCE) {
    return {
      ...told(
        figures,
        `r = ${pearson.toFixed(2)}, by ranks ${spearman.toFixed(2)}: it does not follow ${reference.name}.`,
      ),
      relation: 'none',
    };
  }
  const line = robustLine(pairs, blockOf(samples, effective));
  if (!line) return told(figures, 'The signal stands still in all but a few samples.');
  const curve = curveOf(pairs);
  if (isBent(pairs, line, curve) && Math.abs(spearman) > 0.9) {
    return {
      ...figures,
      relation: 'monotone',
      scale: line.slope,
      offset: line.offset,
      curve,
      residual: line.residual,
      probability: Math.min(0.95, Math.abs(spearman)),
      evidence: [
        {
          text: `One follows the other (ranks ${spearman.toFixed(3)}), but not by a line: a curve through ${curve.length} points halves what is left.`,
        },
      ],
    };
  }
  return { ...figures, ...linear(pairs, line, { pearson, effective, trueness, reference }) };
}

interface LineFigures {
  pearson: number;
  effective: number;
  trueness: number;
  reference: ReferenceChannel;
}

function linear(
  pairs: Pairs,
  line: RobustLine,
  { pearson, effective, trueness, reference }: LineFigures,
): Pick<
  ScaleFit,
  'relation' | 'scale' | 'plainScale' | 'offset' | 'plainOffset' | 'residual' | 'probability' | 'evidence'
> {
  const { slope, offset, residual } = line;
  const more = trueness * Math.abs(slope.value);
  const plausible = plausibleFactor(slope.low - more, slope.high + more, { unit: reference.unit });
  const plainOffset = plausible ? plainOffsetOf(pairs, plausible.factor, line, trueness) : null;
  const unit = reference.unit ? ` ${reference.unit}` : '';
  const text = `r = ${pearson.toFixed(4)} over ${counted(pairs.raw.length)} samples, worth ${counted(effective)} independent ones; one raw unit is ${figure(slope.low)} to ${figure(slope.high)}${unit}, usual departure ${figure(residual)}${unit}.`;
  const settled = plausible
    ? `${figure(plausible.factor)}${unit} (${plausible.why}) lies within the bounds, the reference taken as true to ${(100 * trueness).toFixed(1)} %.`
    : 'No single plausible factor: the bounds are too wide or hold none. Move the quantity over more of its range, several times.';
  return {
    relation: 'linear',
    scale: slope,
    plainScale: plausible && { value: plausible.factor, why: plausible.why },
    offset,
    plainOffset,
    residual,
    probability:
      Math.min(0.97, (pearson * pearson * effective) / (effective + 2)) *
      (1 - (plausible?.accident ?? 0.2) / 2),
    evidence: [{ text }, { text: settled }],
  };
}

/** 0, or a round figure within the bounds of the offset that goes with the plain factor; null where the bounds hold none or are wide. */
function plainOffsetOf(pairs: Pairs, factor: number, line: RobustLine, trueness: number): number | null {
  const rest = pairs.raw.map((x, i) => (pairs.reference[i] as number) - factor * x);
  const middle = median(rest);
  const range = Math.abs(factor) * (quantile(pairs.raw, 0.95) - quantile(pairs.raw, 0.05));
  // A raw value is cut off or rounded: up to one raw unit; a factor that is a little off turns into offset over the range.
  const slack =
    Math.abs(factor) +
    (line.offset.high - line.offset.low) / 2 +
    0.5 * trueness * Math.max(range, Math.abs(factor * median(pairs.raw)));
  if (Math.abs(middle) <= slack) return 0;
  for (const step of [1000, 500, 250, 125, 100, 50, 40, 25, 10, 5, 1]) {
    if (step < 2 * slack) break;
    const round = Math.round(middle / step) * step;
    if (round !== 0 && Math.abs(round - middle) <= slack) return round;
  }
  return null;
}

/** The lag of the best correlation, with the range in which another would not be clearly worse (likelihood ratio, χ² of 3.84). */
function bestLag(pairsAt: (lagS: number) => Pairs, most: number): Bounded {
  const tried: { lag: number; r: number }[] = [];
  const at = (lag: number) => {
    const pairs = pairsAt(lag);
    // Raw values may bend: ranks find the lag of a curve as well.
    const r = pairs.raw.length >= LEAST_SAMPLES ? Math.abs(correlation(pairs.raw, pairs.reference)) : 0;
    tried.push({ lag, r });
    return r;
  };
  const coarse = most / 30;
  for (let k = -30; k <= 30; k++) at(k * coarse);
  let best = tried.reduce((a, b) => (b.r > a.r ? b : a));
  for (let step = coarse / 2; step > 0.004; step /= 2) {
    for (const lag of [best.lag - step, best.lag + step]) if (Math.abs(lag) <= most) at(lag);
    best = tried.reduce((a, b) => (b.r > a.r ? b : a));
  }
  const pairs = pairsAt(best.lag);
  const effective = effectiveCount(pairs.raw, pairs.reference);
  const rest = 1 - best.r * best.r;
  const bound = rest * Math.exp(3.84 / Math.max(4, effective));
  const fine = tried.filter(({ r }) => 1 - r * r <= bound).map(({ lag }) => lag);
  return { value: round(best.lag), low: round(Math.min(...fine)), high: round(Math.max(...fine)) };
}

/** Medians of the reference over equal shares of the raw values. */
function curveOf({ raw, reference }: Pairs): { raw: number; reference: number }[] {
  const order = Uint32Array.from({ length: raw.length }, (_, i) => i).sort(
    (i, j) => (raw[i] as number) - (raw[j] as number),
  );
  const knots: { raw: number; reference: number }[] = [];
  for (let k = 0; k < KNOTS; k++) {
    const part = order.subarray(
      Math.floor((k * order.length) / KNOTS),
      Math.floor(((k + 1) * order.length) / KNOTS),
    );
    if (part.length === 0) continue;
    const x = median(Float64Array.from(part, (i) => raw[i] as number));
    const y = median(Float64Array.from(part, (i) => reference[i] as number));
    const last = knots.at(-1);
    if (!last || x > last.raw) knots.push({ raw: x, reference: y });
  }
  return knots;
}

/** Whether straight pieces through the curve leave clearly less than one line does. */
function isBent(pairs: Pairs, line: RobustLine, curve: ScaleFit['curve']): boolean {
  if (curve.length < 4) return false;
  const first = curve[0] as { raw: number };
  const last = curve.at(-1) as { raw: number };
  let byLine = 0;
  let byCurve = 0;
  let n = 0;
  for (let i = 0; i < pairs.raw.length; i++) {
    const x = pairs.raw[i] as number;
    if (x < first.raw || x > last.raw) continue;
    const y = pairs.reference[i] as number;
    byLine += Math.abs(y - line.slope.value * x - line.offset.value);
    byCurve += Math.abs(y - onCurve(curve, x));
    n++;
  }
  return n > 0 && byLine > BENT * byCurve;
}

function onCurve(curve: ScaleFit['curve'], x: number): number {
  let k = 0;
  while (k + 2 < curve.length && (curve[k + 1] as { raw: number }).raw < x) k++;
  const a = curve[k] as { raw: number; reference: number };
  const b = curve[k + 1] as { raw: number; reference: number };
  return a.reference + ((b.reference - a.reference) * (x - a.raw)) / (b.raw - a.raw);
}

function blockOf(samples: number, effective: number): number {
  return Math.max(1, Math.min(Math.floor(samples / 4), Math.ceil((2 * samples) / effective)));
}

function emptyFit(lagS: Bounded, samples: number): ScaleFit {
  const nothing = { value: Number.NaN, low: Number.NaN, high: Number.NaN };
  return {
    relation: 'tooLittle',
    scale: nothing,
    plainScale: null,
    offset: nothing,
    plainOffset: null,
    lagS,
    pearson: 0,
    spearman: 0,
    samples,
    effective: 0,
    curve: [],
    residual: Number.NaN,
    probability: 0,
    evidence: [],
  };
}

function told(fit: ScaleFit, text: string): ScaleFit {
  return { ...fit, evidence: [{ text }] };
}

function figure(v: number): string {
  return Number(v.toPrecision(4)).toString();
}

function round(v: number): number {
  return Math.round(v * 1000) / 1000;
}
