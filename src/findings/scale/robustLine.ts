/** A straight line through pairs, unmoved by outliers, with bounds that respect autocorrelation. */
import { dice } from '../relations/dice.ts';
import { median, quantile, spreadOf } from '../relations/statistics.ts';
import type { Bounded } from './model.ts';
import type { Pairs } from './pairs.ts';

export interface RobustLine {
  slope: Bounded;
  offset: Bounded;
  /** 1.4826 × median absolute departure. */
  residual: number;
}

/** Slopes between pairs for the start, rounds of reweighting, and resamples for the bounds. */
const SLOPES = 4000;
const ROUNDS = 12;
const RESAMPLES = 200;
/** Huber's constant: 95 % efficiency where departures are normal (Huber 1964). */
const HUBER = 1.345;

/**
 * Median of slopes (Theil 1950, Sen 1968), then Huber's estimate by reweighted least squares; bounds by resampling
 * blocks of `block` neighbouring pairs (moving-block bootstrap, Künsch 1989). null where the raw values stand still.
 */
export function robustLine({ raw, reference }: Pairs, block: number): RobustLine | null {
  const n = raw.length;
  const roll = dice(n);
  const slopes: number[] = [];
  for (let tries = 0; tries < 10 * SLOPES && slopes.length < SLOPES; tries++) {
    const i = Math.floor(roll() * n);
    const j = Math.floor(roll() * n);
    const dx = (raw[j] as number) - (raw[i] as number);
    if (dx !== 0) slopes.push(((reference[j] as number) - (reference[i] as number)) / dx);
  }
  if (slopes.length < 20) return null;
  const start = median(slopes);
  const startOffset = median(raw.map((x, i) => (reference[i] as number) - start * x));
  const away = raw.map((x, i) => (reference[i] as number) - start * x - startOffset);
  const sigma = Math.max(spreadOf(away), 1e-9 * Math.max(1, Math.abs(startOffset)));
  const order = Uint32Array.from({ length: n }, (_, i) => i);
  const whole = huber(raw, reference, order, { slope: start, offset: startOffset, sigma });
  const slopesOf: number[] = [];
  const offsetsOf: number[] = [];
  const picked = new Uint32Array(n);
  for (let r = 0; r < RESAMPLES; r++) {
    for (let at = 0; at < n; ) {
      const from = Math.floor(roll() * Math.max(1, n - block + 1));
      for (let k = 0; k < block && at < n; k++) picked[at++] = Math.min(n - 1, from + k);
    }
    const one = huber(raw, reference, picked, { ...whole, sigma });
    slopesOf.push(one.slope);
    offsetsOf.push(one.offset);
  }
  const residual = spreadOf(raw.map((x, i) => (reference[i] as number) - whole.slope * x - whole.offset));
  return {
    slope: bounded(whole.slope, slopesOf),
    offset: bounded(whole.offset, offsetsOf),
    residual,
  };
}

interface Start {
  slope: number;
  offset: number;
  sigma: number;
}

function huber(
  raw: Float64Array,
  reference: Float64Array,
  picked: Uint32Array,
  start: Start,
): { slope: number; offset: number } {
  let { slope, offset } = start;
  for (let round = 0; round < ROUNDS; round++) {
    let sw = 0;
    let sx = 0;
    let sy = 0;
    let sxx = 0;
    let sxy = 0;
    for (const i of picked) {
      const x = raw[i] as number;
      const y = reference[i] as number;
      const far = Math.abs(y - slope * x - offset) / start.sigma;
      const w = far <= HUBER ? 1 : HUBER / far;
      sw += w;
      sx += w * x;
      sy += w * y;
      sxx += w * x * x;
      sxy += w * x * y;
    }
    const spread = sw * sxx - sx * sx;
    if (!(spread > 0)) return { slope, offset };
    const next = (sw * sxy - sx * sy) / spread;
    const done = Math.abs(next - slope) < 1e-9 * Math.abs(next);
    slope = next;
    offset = (sy - slope * sx) / sw;
    if (done) break;
  }
  return { slope, offset };
}

function bounded(value: number, all: readonly number[]): Bounded {
  return {
    value,
    low: Math.min(value, quantile(all, 0.025)),
    high: Math.max(value, quantile(all, 0.975)),
  };
}
