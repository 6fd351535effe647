/** What the counter of a message tells: frames lost, frames repeated, two counters running through each other. */
import { bytesNeeded, fieldReader } from '../../can/bits.ts';
import type { Capture } from '../store.ts';
import type { CounterPlace } from './model.ts';

/** A counter read from all frames of its message: places on its cycle, −1 where the frame is too short or off the cycle. */
export interface Counted {
  place: Int32Array;
  cycle: number;
}

export function counted(capture: Capture, frames: Uint32Array, counter: CounterPlace): Counted | null {
  const { offset, length, payload } = capture;
  const read = fieldReader({ ...counter, signed: false });
  const bytes = bytesNeeded(counter);
  const values = new Int32Array(frames.length).fill(-1);
  frames.forEach((i, k) => {
    if ((length[i] as number) >= bytes) values[k] = read(payload, offset[i] as number);
  });
  const cycle = cycleOf(counter, values.find((v) => v >= 0) ?? 0);
  if (!cycle) return null;
  return { place: values.map((v) => (v < 0 ? -1 : (cycle.place[v] as number))), cycle: cycle.length };
}

/** Steps from place to place of two frames that follow each other: 1 is the next one, 0 none; −1 where not known. */
export function stepsBetween({ place, cycle }: Counted, k: number): number {
  const before = place[k - 1] as number;
  const now = place[k] as number;
  return before < 0 || now < 0 ? -1 : (now - before + cycle) % cycle;
}

export interface Losses {
  lost: number;
  repeated: number;
  /** Whether most steps go to the next value, so that the rest can be counted as losses. */
  believed: boolean;
}

/**
 * Frames missing by the counter. `across[k]`: 1 where a gap of the whole bus lies before frame k; such steps are left out.
 * With a period, whole rounds of the counter that went by unseen are counted by the time between the frames.
 */
export function lossesOf(
  counter: Counted,
  time: Float64Array,
  across: Uint8Array,
  periodS: number | null,
): Losses {
  let lost = 0;
  let repeated = 0;
  let next = 0;
  let steps = 0;
  for (let k = 1; k < time.length; k++) {
    const step = stepsBetween(counter, k);
    if (step < 0 || across[k]) continue;
    steps++;
    const due =
      periodS === null ? step : Math.round(((time[k] as number) - (time[k - 1] as number)) / periodS);
    const rounds = Math.max(0, Math.round((due - step) / counter.cycle));
    const moved = step + rounds * counter.cycle;
    if (moved === 1) next++;
    else if (moved === 0) repeated++;
    else lost += moved - 1;
  }
  return { lost, repeated, believed: steps > 0 && next >= 0.5 * steps && repeated < 0.3 * steps };
}

/** Blocks of frames (first and one past the last) in which two counters alternate and none alone explains the values. */
export function twoCounters(counter: Counted): [number, number][] {
  const { place, cycle } = counter;
  const found: [number, number][] = [];
  const chains = [
    { next: -1, used: 0 },
    { next: -1, used: 0 },
  ];
  for (let from = 0; from + BLOCK <= place.length; from += BLOCK) {
    const hits = [0, 0];
    let single = 0;
    let still = 0;
    for (let k = from; k < from + BLOCK; k++) {
      const now = place[k] as number;
      if (now < 0) continue;
      if (k > 0) {
        const step = stepsBetween(counter, k);
        if (step === 1) single++;
        else if (step === 0) still++;
      }
      const at = chains.findIndex((chain) => chain.next === now);
      // A value that no chain waits for starts anew the one that has been silent for longer.
      const chain = at >= 0 ? at : (chains[0]?.used ?? 0) <= (chains[1]?.used ?? 0) ? 0 : 1;
      if (at >= 0) hits[at] = (hits[at] as number) + 1;
      chains[chain] = { next: (now + 1) % cycle, used: k };
    }
    const [a = 0, b = 0] = hits;
    if (
      single < 0.6 * BLOCK &&
      still < 0.3 * BLOCK &&
      a + b >= 0.85 * BLOCK &&
      Math.min(a, b) >= 0.25 * BLOCK
    ) {
      found.push([from, from + BLOCK]);
    }
  }
  return found;
}

const BLOCK = 32;

/** The values of a counter in the order in which they come: their places, −1 for values off the cycle. */
function cycleOf(counter: CounterPlace, start: number): { place: Int32Array; length: number } | null {
  const size = 2 ** counter.length;
  if (counter.length > 16 || counter.step === 0) return null;
  const place = new Int32Array(size).fill(-1);
  const skip = new Set(counter.skip);
  let length = 0;
  if (skip.size > 0) {
    if (Math.abs(counter.step) !== 1) return null;
    const values = Array.from({ length: size }, (_, v) => (counter.step > 0 ? v : size - 1 - v));
    for (const v of values) if (!skip.has(v)) place[v] = length++;
  } else {
    for (let v = start; place[v] === -1; v = (((v + counter.step) % size) + size) % size) place[v] = length++;
  }
  return length >= 3 ? { place, length } : null;
}
