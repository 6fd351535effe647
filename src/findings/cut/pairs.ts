/** How two bits move together: counts of steps at which both flip, in the same or in opposite direction. */
import type { MessageRows } from '../rows.ts';
import type { Sample } from './sample.ts';

export interface BitMotion {
  /** Steps looked at. */
  steps: number;
  /** Steps at which each bit rises and falls, as bit sets over the steps; empty for bits that stand still. */
  rises: Int32Array[];
  falls: Int32Array[];
  flips: Uint32Array;
}

export interface PairMotion {
  same: number;
  opposite: number;
}

export function bitMotion(rows: MessageRows, sample: Sample): BitMotion {
  const { payload, length } = rows;
  const { frames, begins } = sample;
  const words = (frames.length + 31) >> 5;
  const rises = Array.from({ length: 8 * length }, () => new Int32Array(words));
  const falls = Array.from({ length: 8 * length }, () => new Int32Array(words));
  const flips = new Uint32Array(8 * length);
  let steps = 0;
  for (let k = 1; k < frames.length; k++) {
    if (begins[k]) continue;
    steps++;
    const now = (frames[k] as number) * length;
    const was = (frames[k - 1] as number) * length;
    for (let b = 0; b < length; b++) {
      const value = payload[now + b] as number;
      let changed = value ^ (payload[was + b] as number);
      for (; changed !== 0; changed &= changed - 1) {
        const place = 31 - Math.clz32(changed & -changed);
        const bit = 8 * b + place;
        const set = ((value >> place) & 1 ? rises : falls)[bit] as Int32Array;
        set[k >> 5] = (set[k >> 5] as number) | (1 << (k & 31));
        flips[bit] = (flips[bit] as number) + 1;
      }
    }
  }
  return { steps, rises, falls, flips };
}

export function pairMotion(motion: BitMotion, low: number, high: number): PairMotion {
  const { rises, falls } = motion;
  const up = rises[low] as Int32Array;
  const down = falls[low] as Int32Array;
  const upHigh = rises[high] as Int32Array;
  const downHigh = falls[high] as Int32Array;
  let same = 0;
  let opposite = 0;
  for (let w = 0; w < up.length; w++) {
    same +=
      ones((up[w] as number) & (upHigh[w] as number)) + ones((down[w] as number) & (downHigh[w] as number));
    opposite +=
      ones((up[w] as number) & (downHigh[w] as number)) + ones((down[w] as number) & (upHigh[w] as number));
  }
  return { same, opposite };
}

/** Set bits of a 32-bit word. */
function ones(word: number): number {
  let x = word - ((word >>> 1) & 0x5555_5555);
  x = (x & 0x3333_3333) + ((x >>> 2) & 0x3333_3333);
  return Math.imul((x + (x >>> 4)) & 0x0f0f_0f0f, 0x0101_0101) >>> 24;
}
