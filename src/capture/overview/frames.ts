/** The single frames of a stretch of time, where they are few. */
import { FLAG } from '../../can/frame.ts';
import type { Capture } from '../store.ts';
import { boundOf } from './order.ts';

export interface FrameWindow {
  /** Frames in the stretch, error messages included. */
  count: number;
  /** The frames by rising time; null where there are more than were asked for. */
  frames: {
    time: Float64Array;
    bus: Uint8Array;
    id: Uint32Array;
    flags: Uint8Array;
    /** As the frame says it: of a remote frame it is no number of stored bytes. */
    length: Uint8Array;
    /** Payload bytes stored with each frame, and all of them end to end. */
    stored: Uint8Array;
    payload: Uint8Array;
  } | null;
}

/**
 * Frames of `[from, to]`, written out where they are at most `most`. `order` is `timeOrder` of the capture and `time` its times in
 * that order.
 */
export function framesIn(
  capture: Capture,
  order: Uint32Array | null,
  time: Float64Array,
  { from, to, most }: { from: number; to: number; most: number },
): FrameWindow {
  const a = boundOf(time, from, 'low');
  const b = boundOf(time, to, 'high', a);
  const n = b - a;
  if (n > most) return { count: n, frames: null };
  const rows = Uint32Array.from({ length: n }, (_, k) => (order === null ? a + k : (order[a + k] as number)));
  const stored = Uint8Array.from(rows, (i) => storedBytes(capture, i));
  const payload = new Uint8Array(stored.reduce((sum, bytes) => sum + bytes, 0));
  let at = 0;
  for (let k = 0; k < n; k++) {
    const start = capture.offset[rows[k] as number] as number;
    payload.set(capture.payload.subarray(start, start + (stored[k] as number)), at);
    at += stored[k] as number;
  }
  return {
    count: n,
    frames: {
      time: time.slice(a, b),
      bus: Uint8Array.from(rows, (i) => capture.bus[i] as number),
      id: Uint32Array.from(rows, (i) => capture.id[i] as number),
      flags: Uint8Array.from(rows, (i) => capture.flags[i] as number),
      length: Uint8Array.from(rows, (i) => capture.length[i] as number),
      stored,
      payload,
    },
  };
}

function storedBytes({ flags, length }: Capture, i: number): number {
  return ((flags[i] as number) & FLAG.remote) !== 0 ? 0 : (length[i] as number);
}
