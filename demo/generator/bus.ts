/** What happens on the wires: messages wait until a bus is free, and the lowest identifier goes first (ISO 11898-1). */
import { FLAG } from '../../src/can/frame.ts';
import { classicalFrameBits } from '../../src/can/length.ts';

/** A frame that a unit wants to send, and when. */
export interface Waiting {
  readyS: number;
  id: number;
  flags: number;
  payload: Uint8Array;
}

/** A frame as the recorder saw it: stamped at its end, in whole microseconds. */
export interface Seen extends Waiting {
  timeS: number;
}

/** Sends frames, given in the order in which they become ready, over one bus. */
export function arbitrate(frames: readonly Waiting[], bitRateBps: number): Seen[] {
  const seen: Seen[] = [];
  const waiting: Waiting[] = [];
  let freeS = 0;
  let next = 0;
  while (next < frames.length || waiting.length > 0) {
    const first = frames[next];
    if (waiting.length === 0 && first) freeS = Math.max(freeS, first.readyS);
    while (next < frames.length && (frames[next] as Waiting).readyS <= freeS) {
      waiting.push(frames[next++] as Waiting);
    }
    let best = 0;
    for (let k = 1; k < waiting.length; k++) {
      if (order(waiting[k] as Waiting) < order(waiting[best] as Waiting)) best = k;
    }
    const [frame] = waiting.splice(best, 1) as [Waiting];
    const bits = classicalFrameBits(frame.id, frame.flags, frame.payload, 0, frame.payload.length);
    seen.push({ ...frame, timeS: Math.round((freeS + (bits - INTERMISSION) / bitRateBps) * 1e6) / 1e6 });
    freeS += bits / bitRateBps;
  }
  return seen;
}

const INTERMISSION = 3;

/** Identifiers as arbitration compares them: the first 11 bits, then base before extended, then the other 18. */
function order({ id, flags }: Waiting): number {
  return flags & FLAG.extended ? (id >>> 18) * 2 ** 19 + 2 ** 18 + (id & 0x3_ffff) : id * 2 ** 19;
}
