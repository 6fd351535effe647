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
  const { time, payload, offset } = capture;
  const moments = restless(capture, y);
  const tries = Math.max(1, Math.round(mostS / STEP_S));
  const step = Math.max(1, Math.floor(tries / 150));
  const costs: { delayS: number; cost: number }[] = [];
  const xFrames = x.frames;
  for (let k = -tries; k <= tries; k += step) {
    let cost = 0;
    let at = 0;
    for (let m = 0; m < moments.frames.length; m++) {
      const when = (time[moments.frames[m] as number] as number) - k * STEP_S;
      at = lastAt(time, xFrames, when, at);
      const value = readX(payload, offset[xFrames[at] as number] as number);
      cost += Math.min(1e6, Math.abs((moments.values[m] as number) - line.factor * value - line.offset));
    }
    costs.push({ delayS: k * STEP_S, cost });
  }
  const least = Math.min(...costs.map((c) => c.cost));
  const slack = least + 0.25 * moments.frames.length * Math.max(0.5, 0.5 * Math.abs(line.factor)) * 0.2;
  const good = costs.filter((c) => c.cost <= slack).map((c) => c.delayS);
  const lowS = good[0] as number;
  const highS = good.at(-1) as number;
  return { delayS: (lowS + highS) / 2, lowS, highS };
}

interface Moments {
  /** Frames of the capture, and the value in each. */
  frames: Uint32Array;
  values: Float64Array;
}

/** Of each signal, because it stands in many pairs. */
const known = new WeakMap<GridSignal, Moments>();

/** Frames at which the value differs from the frame before, in time order, evenly chosen. */
function restless(capture: Capture, y: GridSignal): Moments {
  const before = known.get(y);
  if (before) return before;
  const read = fieldReader(y);
  const valueAt = (f: number) => read(capture.payload, capture.offset[f] as number);
  const changed: number[] = [];
  for (let k = 0, last = Number.NaN; k < y.frames.length; k++) {
    const now = valueAt(y.frames[k] as number);
    if (k > 0 && now !== last) changed.push(y.frames[k] as number);
    last = now;
  }
  const stride = Math.max(1, Math.floor(changed.length / MOMENTS));
  const frames = Uint32Array.from(changed.filter((_, i) => i % stride === 0));
  const moments = { frames, values: Float64Array.from(frames, valueAt) };
  known.set(y, moments);
  return moments;
}

/** Index of the last frame at or before `when`: in steps that double from the hint on, then by halving. */
function lastAt(time: Float64Array, frames: Uint32Array, when: number, hint: number): number {
  let low = 0;
  let high = frames.length - 1;
  // Moments rise, so the answer is mostly a little further on.
  if ((time[frames[hint] as number] as number) <= when) {
    low = hint;
    for (let step = 1; low + step < high; step *= 2) {
      if ((time[frames[low + step] as number] as number) > when) {
        high = low + step;
        break;
      }
      low += step;
    }
  }
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if ((time[frames[middle] as number] as number) <= when) low = middle;
    else high = middle - 1;
  }
  return low;
}
