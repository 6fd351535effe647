/** By how much one signal comes after its copy, from the frames themselves. */
import { fieldReader } from '../../can/bits.ts';
import type { Capture } from '../../capture/store.ts';
import type { GridSignal } from './grid.ts';

export interface Delay {
  delayS: number;
  lowS: number;
  highS: number;
}

/** Moments that are looked at, and the finest step in seconds. */
const MOMENTS = 600;
const STEP_S = 0.001;

/**
 * The delay at which `y` is nearest to factor × x + offset just before its own frames, and the range of delays that do as
 * well. Held values make this no finer than the periods of both.
 */
export function delayOf(
  capture: Capture,
  x: GridSignal,
  y: GridSignal,
  line: { factor: number; offset: number },
  mostS: number,
): Delay {
  const readX = fieldReader(x);
  const readY = fieldReader(y);
  const { time, payload, offset } = capture;
  const moments = restless(capture, y, readY);
  const tries = Math.max(1, Math.round(mostS / STEP_S));
  const step = Math.max(1, Math.floor(tries / 150));
  const costs: { delayS: number; cost: number }[] = [];
  const xFrames = x.frames;
  for (let k = -tries; k <= tries; k += step) {
    let cost = 0;
    let at = 0;
    for (const m of moments) {
      const f = y.frames[m] as number;
      const when = (time[f] as number) - k * STEP_S;
      at = lastAt(time, xFrames, when, at);
      const value = readX(payload, offset[xFrames[at] as number] as number);
      cost += Math.min(
        1e6,
        Math.abs(readY(payload, offset[f] as number) - line.factor * value - line.offset),
      );
    }
    costs.push({ delayS: k * STEP_S, cost });
  }
  const least = Math.min(...costs.map((c) => c.cost));
  const slack = least + 0.25 * moments.length * Math.max(0.5, 0.5 * Math.abs(line.factor)) * 0.2;
  const good = costs.filter((c) => c.cost <= slack).map((c) => c.delayS);
  const lowS = good[0] as number;
  const highS = good.at(-1) as number;
  return { delayS: (lowS + highS) / 2, lowS, highS };
}

/** Frames at which the value differs from the frame before, in time order, evenly chosen. */
function restless(capture: Capture, y: GridSignal, read: ReturnType<typeof fieldReader>): number[] {
  const changed: number[] = [];
  let before = Number.NaN;
  for (let k = 0; k < y.frames.length; k++) {
    const now = read(capture.payload, capture.offset[y.frames[k] as number] as number);
    if (k > 0 && now !== before) changed.push(k);
    before = now;
  }
  const stride = Math.max(1, Math.floor(changed.length / MOMENTS));
  return changed.filter((_, i) => i % stride === 0);
}

/** Index of the last frame at or before `when`, by halving. */
function lastAt(time: Float64Array, frames: Uint32Array, when: number, hint: number): number {
  let low = 0;
  let high = frames.length - 1;
  // Moments rise, so the answer is mostly a little further on.
  if ((time[frames[hint] as number] as number) <= when) low = hint;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if ((time[frames[middle] as number] as number) <= when) low = middle;
    else high = middle - 1;
  }
  return low;
}
