/**
 * Finds how the clock of a reference channel runs against that of a capture, from a signal of the capture that moves as
 * the reference does. Neither scale nor zero of the two need agree, nor whether both rise together.
 */
import { fineShift } from './fineShift.ts';
import { type Likeness, likeness } from './likeness.ts';
import { sampled, type TimedValues } from './sampled.ts';

export interface Alignment {
  /** time in the capture = time in the reference + offsetS + driftPpm × 10⁻⁶ × time in the reference. */
  offsetS: number;
  driftPpm: number;
  /** Half the 95 % interval of the drift; null where the overlap is too short to tell and the drift is taken as 0. */
  driftHalfPpm: number | null;
  /** The shift in the middle of the overlap, at `middleS` of the reference, and half its 95 % interval, s. */
  shiftS: number;
  shiftHalfS: number;
  middleS: number;
  /** Correlation of the two at that shift, −1 … 1. */
  r: number;
  /** reference ≈ intercept + slope × signal; the root mean square of what is left, in the unit of the reference. */
  slope: number;
  intercept: number;
  residual: number;
  pairs: number;
  overlapS: number;
  /** Other offsets that fit nearly as well, best first; where there are any, the offset must not be believed without more. */
  rivals: { offsetS: number; r: number }[];
  /** What a person should think about before accepting, one sentence each. */
  cautions: string[];
}

/** No alignment, and what recording would allow one. */
export interface NoAlignment {
  reason: string;
}

export interface AlignOptions {
  /** Offsets to look at, where something about the clocks is known: within `withinS` of `aroundS`; default all. */
  aroundS?: number;
  withinS?: number;
  /** Whether signal and reference rise together; default either. */
  relation?: 'either' | 'together' | 'opposite';
}

/** Fewer independent movements than this fit anything. */
const LEAST_INDEPENDENT = 4;
const LEAST_R = 0.6;
/** No two sensors of a car agree better than this share of unexplained variance, so no rival is told apart below it. */
const FLOOR = 0.002;
/** Crystals of recorders differ by less than this, ppm (from memory). */
const DRIFT_USUAL_PPM = 500;

export function alignReference(
  reference: TimedValues,
  signal: TimedValues,
  options: AlignOptions = {},
): Alignment | NoAlignment {
  const [first, second] = [sampled(reference), sampled(signal)];
  if (first === null || first.time.length < 8) return tooFew('reference', first?.time.length ?? 0);
  if (second === null || second.time.length < 8) return tooFew('signal', second?.time.length ?? 0);
  for (const [what, s] of [
    ['reference', first],
    ['signal', second],
  ] as const) {
    if (s.value.every((v) => v === s.value[0]))
      return { reason: `the ${what} stands at ${s.value[0]} all the time: record while it moves` };
  }
  const like = likeness(first, second);
  const peaks = peaksOf(like, options);
  const best = peaks[0];
  if (best === undefined)
    return {
      reason:
        'at no offset do both move over enough common time; record both together for longer, with starts and stops in it',
    };
  if (like.independent < LEAST_INDEPENDENT)
    return {
      reason: `the two move too seldom to tell one offset from another (about ${like.independent.toFixed(1)} independent movements; at least ${LEAST_INDEPENDENT} are needed): record several starts and stops`,
    };
  const chance = luck(like, peaks.tried);
  if (Math.abs(best.r) < Math.max(LEAST_R, chance))
    return {
      reason: `signal and reference are not alike at any offset: the best correlation is ${best.r.toFixed(2)}, and ${Math.max(LEAST_R, chance).toFixed(2)} is the least that could not be luck; choose another signal, or see that both are of the same drive`,
    };
  const fine = fineShift(first, second, best.shiftS, 4 * like.stepS);
  if (fine === null)
    return { reason: 'fewer than 8 values of the two stand beside each other; record for longer' };
  const rivals = peaks
    .slice(1)
    .filter((p) => nearlyAsWell(best.r, p.r, Math.max(like.independent, Math.min(fine.independent, 200))))
    .slice(0, 5)
    .map(({ shiftS, r }) => ({ offsetS: shiftS, r }));
  const { shiftS, drift, driftHalf, middleS } = fine;
  return {
    offsetS: shiftS - drift * middleS,
    driftPpm: drift * 1e6,
    driftHalfPpm: driftHalf === null ? null : driftHalf * 1e6,
    shiftS,
    shiftHalfS: fine.shiftHalfS,
    middleS,
    r: fine.r,
    slope: fine.line.slope,
    intercept: fine.line.intercept,
    residual: fine.residual,
    pairs: fine.pairs,
    overlapS: fine.spanS,
    rivals,
    cautions: cautionsOf(fine.drift * 1e6, driftHalf, fine.spanS, fine.r, rivals),
  };
}

function tooFew(what: string, n: number): NoAlignment {
  return { reason: `the ${what} has only ${n} usable values; at least 8 are needed` };
}

interface Peak {
  shiftS: number;
  r: number;
}

/** Local maxima of the likeness that stand apart, best first. */
function peaksOf(like: Likeness, options: AlignOptions): Peak[] & { tried: number } {
  const { r, firstS, stepS } = like;
  const { aroundS = 0, withinS = Number.POSITIVE_INFINITY, relation = 'either' } = options;
  const height = (i: number) => {
    const value = r[i];
    if (value === undefined || Number.isNaN(value)) return Number.NaN;
    return relation === 'either' ? Math.abs(value) : relation === 'together' ? value : -value;
  };
  const found: { i: number; h: number }[] = [];
  let tried = 0;
  for (let i = 0; i < r.length; i++) {
    const h = height(i);
    if (Number.isNaN(h) || Math.abs(firstS + i * stepS - aroundS) > withinS) continue;
    tried++;
    const [before, after] = [height(i - 1), height(i + 1)];
    if ((Number.isNaN(before) || h >= before) && (Number.isNaN(after) || h > after)) found.push({ i, h });
  }
  found.sort((a, b) => b.h - a.h);
  const apart: { i: number; h: number }[] = [];
  for (const peak of found.slice(0, 400)) {
    if (apart.length >= 8) break;
    if (apart.every((other) => Math.abs(other.i - peak.i) * stepS > like.widthS)) apart.push(peak);
  }
  const peaks = apart.map(({ i }) => ({ shiftS: firstS + i * stepS, r: r[i]! }));
  return Object.assign(peaks, { tried: Math.max(1, (tried * stepS) / Math.max(stepS, like.widthS)) });
}

/** The correlation that unrelated series of this length reach at one of so many offsets, seldom (Fisher's z, R. A. Fisher 1921). */
function luck({ independent }: Likeness, tried: number): number {
  const z = (Math.sqrt(2 * Math.log(Math.max(2, tried))) + 2) / Math.sqrt(Math.max(1, independent - 3));
  return Math.tanh(Math.min(z, 1.5));
}

/** Whether the worse of two correlations is within the reach of chance: twice the difference of log-likelihoods below 6. */
function nearlyAsWell(best: number, other: number, independent: number): boolean {
  const left = (r: number) => 1 - r * r + FLOOR;
  return independent * Math.log(left(other) / left(best)) < 6;
}

function cautionsOf(
  ppm: number,
  half: number | null,
  spanS: number,
  r: number,
  rivals: Alignment['rivals'],
): string[] {
  const cautions: string[] = [];
  if (rivals.length === 1)
    cautions.push(
      `two offsets fit nearly as well: the other is ${(rivals[0] as Peak & { offsetS: number }).offsetS.toFixed(2)} s`,
    );
  else if (rivals.length > 1)
    cautions.push(
      `${rivals.length + 1} offsets fit nearly as well: the others are ${rivals.map((p) => p.offsetS.toFixed(2)).join(', ')} s`,
    );
  if (half === null)
    cautions.push(`the drift cannot be told from ${spanS.toFixed(0)} s of overlap and is taken as 0`);
  else if (Math.abs(ppm) - half * 1e6 > DRIFT_USUAL_PPM)
    cautions.push(
      `a drift of ${ppm.toFixed(0)} ppm is more than clocks of recorders differ by; one of the two may have lost time`,
    );
  if (r < 0) cautions.push('the signal falls where the reference rises');
  return cautions;
}
