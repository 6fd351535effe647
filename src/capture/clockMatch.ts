/**
 * Two recorders, two clocks: offset and drift between two captures that heard some of the same frames, from frames whose
 * identifier and payload are rare enough in both to be the same one. Own method: voting over time differences, then a
 * robust line (median of slopes, Theil 1950 and Sen 1968, then least squares with outliers left out).
 */

import { FLAG, idKey } from '../can/frame.ts';
import { timeSpan } from './span.ts';
import type { Capture } from './store.ts';

export interface ClockMatch {
  /** time in the first = time in the second + offsetS + driftPpm × 10⁻⁶ × time in the second. */
  offsetS: number;
  driftPpm: number;
  /** Frames paired, and messages (bus, identifier) that they belong to in the second capture. */
  pairs: number;
  messages: number;
  /** Median and 95 % of the absolute difference left after the correction, seconds. */
  residualS: number;
  residual95S: number;
}

/** No match, and what recording would allow one. */
export interface NoMatch {
  reason: string;
}

/** A payload seen more often than this in one capture says too little about when. */
const RARE = 3;
/** Crystals of recorders differ by less than this. */
const DRIFT_MAX_PPM = 500;
const LEAST_PAIRS = 20;
const BIN_S = 0.02;

/** Estimates how the clock of `second` runs against that of `first`. */
export function matchClocks(first: Capture, second: Capture): ClockMatch | NoMatch {
  const candidates = candidatePairs(first, second);
  if (candidates.a.length < LEAST_PAIRS) {
    return {
      reason:
        `only ${candidates.a.length} frames could be the same in both, at least ${LEAST_PAIRS} are needed; ` +
        'let both recorders hear one bus with a counted message for some seconds',
    };
  }
  const voted = vote(candidates, timeSpan(second.time).seconds);
  if (voted.length < LEAST_PAIRS) {
    return {
      reason:
        'the frames that could be the same agree on no time difference; the recordings may be of different drives',
    };
  }
  return fitted(second, candidates, voted);
}

interface Pairs {
  /** Times in the first and in the second capture, and the frame in the second. */
  a: Float64Array;
  b: Float64Array;
  frame: Uint32Array;
}

function candidatePairs(first: Capture, second: Capture): Pairs {
  const seen = new Map<number, { at: number[]; count: number }>();
  for (let i = 0; i < first.count; i++) {
    const hash = frameHash(first, i);
    if (hash === null) continue;
    const entry = seen.get(hash);
    if (!entry) seen.set(hash, { at: [i], count: 1 });
    else if (++entry.count <= RARE) entry.at.push(i);
  }
  const counts = new Map<number, number>();
  const hashes = new Float64Array(second.count);
  for (let j = 0; j < second.count; j++) {
    const hash = frameHash(second, j) ?? -1;
    hashes[j] = hash;
    if (hash >= 0) counts.set(hash, (counts.get(hash) ?? 0) + 1);
  }
  const a: number[] = [];
  const b: number[] = [];
  const frame: number[] = [];
  for (let j = 0; j < second.count; j++) {
    const hash = hashes[j]!;
    const entry = hash < 0 ? undefined : seen.get(hash);
    if (!entry || entry.count > RARE || counts.get(hash)! > RARE) continue;
    for (const i of entry.at) {
      a.push(first.time[i]!);
      b.push(second.time[j]!);
      frame.push(j);
    }
  }
  return { a: Float64Array.from(a), b: Float64Array.from(b), frame: Uint32Array.from(frame) };
}

/** 52 bits over identifier and payload: two independent 26-bit polynomial hashes. Null for frames without payload. */
function frameHash(capture: Capture, i: number): number | null {
  const flags = capture.flags[i]!;
  const length = capture.length[i]!;
  if ((flags & (FLAG.remote | FLAG.error)) !== 0 || length === 0) return null;
  const key = idKey(capture.id[i]!, flags);
  let x = (Math.imul(key, 0x9e3779b1) ^ length) >>> 0;
  let y = (Math.imul(key ^ 0x5bd1e995, 0x85ebca6b) + length) >>> 0;
  const from = capture.offset[i]!;
  for (let k = from; k < from + length; k++) {
    const byte = capture.payload[k]!;
    x = Math.imul(x ^ byte, 0x01000193) >>> 0;
    y = (Math.imul(y, 31) + byte + (y >>> 13)) >>> 0;
  }
  return (x >>> 6) * 2 ** 26 + (y >>> 6);
}

/** Indices of the pairs whose difference falls into the fullest bin or its neighbours. */
function vote({ a, b }: Pairs, spanS: number): number[] {
  const width = BIN_S + 2 * DRIFT_MAX_PPM * 1e-6 * spanS;
  const bins = new Map<number, number>();
  for (let k = 0; k < a.length; k++) {
    const bin = Math.floor((a[k]! - b[k]!) / width);
    bins.set(bin, (bins.get(bin) ?? 0) + 1);
  }
  let best = 0;
  let most = -1;
  for (const [bin, n] of bins) {
    const sum = n + (bins.get(bin + 1) ?? 0);
    if (sum > most) [best, most] = [bin, sum];
  }
  const indices: number[] = [];
  for (let k = 0; k < a.length; k++) {
    const bin = Math.floor((a[k]! - b[k]!) / width);
    if (bin === best || bin === best + 1) indices.push(k);
  }
  return indices;
}

function fitted(second: Capture, { a, b, frame }: Pairs, voted: number[]): ClockMatch | NoMatch {
  const difference = (k: number) => a[k]! - b[k]!;
  let slope = medianSlope(voted, b, difference);
  let offset = median(voted.map((k) => difference(k) - slope * b[k]!));
  let kept = voted;
  // Each round leaves out what is further from the line than the bulk, then fits the rest by least squares.
  for (let round = 0; round < 4; round++) {
    const off = kept.map((k) => Math.abs(difference(k) - offset - slope * b[k]!));
    const limit = Math.max(5e-5, 4 * 1.4826 * median(off));
    kept = kept.filter((_, i) => off[i]! <= limit);
    ({ slope, offset } = leastSquares(kept, b, difference));
  }
  if (kept.length < LEAST_PAIRS || kept.length < 0.2 * voted.length) {
    return {
      reason:
        'the time differences do not lie on one line; a recorder may have lost time or restarted its clock',
    };
  }
  const off = kept.map((k) => Math.abs(difference(k) - offset - slope * b[k]!)).sort((x, y) => x - y);
  const messages = new Set(
    kept.map((k) => `${second.bus[frame[k]!]}/${second.id[frame[k]!]}/${second.flags[frame[k]!]! & 1}`),
  );
  return {
    offsetS: offset,
    driftPpm: slope * 1e6,
    pairs: kept.length,
    messages: messages.size,
    residualS: off[off.length >> 1]!,
    residual95S: off[Math.min(off.length - 1, Math.floor(0.95 * off.length))]!,
  };
}

/** Median of slopes between pairs that stand half the recording apart: at most a thousand of them. */
function medianSlope(indices: number[], b: Float64Array, difference: (k: number) => number): number {
  const order = [...indices].sort((p, q) => b[p]! - b[q]!);
  const half = order.length >> 1;
  const every = Math.max(1, Math.floor(half / 1000));
  const slopes: number[] = [];
  for (let i = 0; i < half; i += every) {
    const [p, q] = [order[i]!, order[i + half]!];
    const apart = b[q]! - b[p]!;
    if (apart > 0) slopes.push((difference(q) - difference(p)) / apart);
  }
  const limit = 2 * DRIFT_MAX_PPM * 1e-6;
  return slopes.length > 0 ? Math.max(-limit, Math.min(limit, median(slopes))) : 0;
}

function leastSquares(kept: number[], b: Float64Array, difference: (k: number) => number) {
  const n = kept.length;
  const meanB = kept.reduce((s, k) => s + b[k]!, 0) / n;
  const meanD = kept.reduce((s, k) => s + difference(k), 0) / n;
  let top = 0;
  let bottom = 0;
  for (const k of kept) {
    top += (b[k]! - meanB) * (difference(k) - meanD);
    bottom += (b[k]! - meanB) ** 2;
  }
  const slope = bottom > 0 ? top / bottom : 0;
  return { slope, offset: meanD - slope * meanB };
}

function median(values: readonly number[]): number {
  const sorted = Float64Array.from(values).sort();
  return sorted.length > 0 ? sorted[sorted.length >> 1]! : 0;
}
