/**
 * The frames of one message laid out for findings: payloads of one length as a matrix, times, and the places where a
 * frame must not be compared with the one before it (start of a recording, clock that runs backwards, pause).
 */
import type { MessageFrames } from '../capture/select.ts';
import type { Capture } from '../capture/store.ts';

export interface MessageRows {
  bus: number;
  id: number;
  extended: boolean;
  /** Payload length in bytes, the commonest of the message. */
  length: number;
  /** Frames of that length. */
  count: number;
  /** Frames with another length, left out here. */
  otherLength: number;
  /** Payloads end to end, Uint8[count × length]. */
  payload: Uint8Array;
  /** Seconds, Float64[count], in recorded order. */
  time: Float64Array;
  /** 1 where a recording begins: the first frame, and after a pause or a clock that ran backwards. Uint8[count]. */
  begins: Uint8Array;
}

/** Gives memory of so many bytes, all 0. */
export type Allocate = (bytes: number) => ArrayBuffer | SharedArrayBuffer;

/**
 * Rows of the frames `frames` (indices into the capture, all of one message); `session` from `sessionsOf`. The arrays lie in
 * memory from `allocate`.
 */
export function messageRows(
  capture: Capture,
  message: MessageFrames,
  session: Uint32Array,
  allocate: Allocate = (bytes) => new ArrayBuffer(bytes),
): MessageRows {
  const { frames } = message;
  const length = commonestLength(capture, frames);
  const kept = frames.filter((f) => capture.length[f] === length);
  const payload = new Uint8Array(allocate(kept.length * length));
  const time = new Float64Array(allocate(8 * kept.length));
  const begins = new Uint8Array(allocate(kept.length));
  for (let i = 0; i < kept.length; i++) {
    const f = kept[i] as number;
    const from = capture.offset[f] as number;
    for (let b = 0; b < length; b++) payload[i * length + b] = capture.payload[from + b] as number;
    time[i] = capture.time[f] as number;
    const before = kept[i - 1];
    if (before === undefined || session[f] !== session[before]) begins[i] = 1;
  }
  return {
    bus: message.bus,
    id: message.id,
    extended: message.extended,
    length,
    count: kept.length,
    otherLength: frames.length - kept.length,
    payload,
    time,
    begins,
  };
}

/** Backward steps of the clock smaller than this, in seconds, are recorders that stamp late; larger ones begin anew. */
const BACKWARD_S = 0.5;
/** Silence of everything, in seconds and in usual gaps, that counts as a pause of the recorder. */
const SILENCE_S = 1;
const SILENCE_GAPS = 50;

/**
 * Running number of the recording that each frame belongs to: it rises where the clock of the capture runs backwards and
 * where all traffic pauses, so that nothing is compared across such a place.
 */
export function sessionsOf(capture: Capture): Uint32Array {
  const { time, count } = capture;
  const session = new Uint32Array(count);
  const silence = Math.max(SILENCE_S, SILENCE_GAPS * usualGap(time, count));
  let latest = time[0] ?? 0;
  let number = 0;
  for (let i = 0; i < count; i++) {
    const t = time[i] as number;
    if (t < latest - BACKWARD_S || t > latest + silence) {
      number++;
      latest = t;
    } else if (t > latest) latest = t;
    session[i] = number;
  }
  return session;
}

/** Median gap of all traffic, from at most some thousand gaps. */
function usualGap(time: Float64Array, count: number): number {
  const stride = Math.max(1, Math.floor(count / 4000));
  const gaps: number[] = [];
  for (let i = 1; i < count; i += stride) gaps.push((time[i] as number) - (time[i - 1] as number));
  gaps.sort((a, b) => a - b);
  return Math.max(0, gaps[gaps.length >> 1] ?? 0);
}

/** The first frames of each distinct payload, in recorded order, at most `limit` of them. */
export function distinctRows(rows: MessageRows, limit: number): Uint32Array {
  const seen = new Set<string>();
  const kept: number[] = [];
  const { payload, length } = rows;
  for (let i = 0; i < rows.count && kept.length < limit; i++) {
    const key = String.fromCharCode(...payload.subarray(i * length, (i + 1) * length));
    if (seen.has(key)) continue;
    seen.add(key);
    kept.push(i);
  }
  return Uint32Array.from(kept);
}

/** Bits that ever differ from the first frame, one mask per payload byte. */
export function movingBits(rows: MessageRows): Uint8Array {
  const { payload, length, count } = rows;
  const moving = new Uint8Array(length);
  for (let at = length, byte = 0; at < count * length; at++) {
    moving[byte] = (moving[byte] as number) | ((payload[at] as number) ^ (payload[byte] as number));
    if (++byte === length) byte = 0;
  }
  return moving;
}

/** Share of frames in which each bit differs from the frame before, Float64[8 × length]. */
export function flipRates(rows: MessageRows): Float64Array {
  const { payload, length, count, begins } = rows;
  const flips = new Float64Array(8 * length);
  let steps = 0;
  for (let i = 1; i < count; i++) {
    if (begins[i]) continue;
    steps++;
    for (let b = 0; b < length; b++) {
      let changed = (payload[i * length + b] as number) ^ (payload[(i - 1) * length + b] as number);
      while (changed !== 0) {
        const bit = 8 * b + 31 - Math.clz32(changed & -changed);
        flips[bit] = (flips[bit] as number) + 1;
        changed &= changed - 1;
      }
    }
  }
  return steps > 0 ? flips.map((f) => f / steps) : flips;
}

function commonestLength(capture: Capture, frames: Uint32Array): number {
  // In order of appearance: of lengths that are as common, the first counts.
  const counts = new Map<number, number>();
  for (let i = 0, run = 0; i < frames.length; i++) {
    run++;
    const length = capture.length[frames[i] as number] as number;
    const next = frames[i + 1];
    if (next !== undefined && capture.length[next] === length) continue;
    counts.set(length, (counts.get(length) ?? 0) + run);
    run = 0;
  }
  return [...counts].reduce((best, entry) => (entry[1] > best[1] ? entry : best), [0, 0] as [
    number,
    number,
  ])[0];
}
