/** Physical values of a signal over a whole capture, in typed arrays. */
import { FLAG, idKey } from '../can/frame.ts';
import type { Capture } from '../capture/store.ts';
import { bytesNeeded, fieldReader } from './bits.ts';
import type { Message, Signal } from './model.ts';

/** What a raw value needs to become a physical one. */
export type Scaling = Pick<Signal, 'scale' | 'offset'>;

/** physical = raw × scale + offset. */
export function physicalValue(signal: Scaling, raw: number): number {
  return raw * signal.scale + signal.offset;
}

/** The raw value nearest to a physical one; not yet limited to what the field can hold. */
export function rawValue(signal: Scaling, physical: number): number {
  // `+ 0` turns −0 into 0.
  return Math.round((physical - signal.offset) / signal.scale) + 0;
}

export interface Series {
  /** Seconds since the capture's origin, one per frame that holds the signal. */
  time: Float64Array;
  /** Physical values. */
  value: Float64Array;
  /** 1 where the value lies within the signal's min and max, 0 where it is not to be believed. */
  valid: Uint8Array;
  /** Frames too short for the signal (or the selector), left out. */
  tooShort: number;
  /** Frames whose selector says that the signal is not in them, left out. */
  otherSelector: number;
}

/** Decodes one signal from frames of its message, given as capture indices (`messageFrames`). */
export function decodeSignal(
  capture: Capture,
  frames: Uint32Array,
  message: Message,
  signal: Signal,
): Series {
  const { length, offset, payload } = capture;
  const selector = signal.selectorValue === undefined ? undefined : message.selector;
  const needed = Math.max(bytesNeeded(signal), selector ? bytesNeeded(selector) : 0);
  const { scale, offset: bias, min = Number.NEGATIVE_INFINITY, max = Number.POSITIVE_INFINITY } = signal;
  const read = fieldReader(signal);
  const readSelector = selector && fieldReader({ ...selector, signed: false });
  const time = new Float64Array(frames.length);
  const value = new Float64Array(frames.length);
  const valid = new Uint8Array(frames.length);
  let n = 0;
  let tooShort = 0;
  let otherSelector = 0;
  for (const i of frames) {
    if ((length[i] as number) < needed) {
      tooShort++;
      continue;
    }
    const from = offset[i] as number;
    if (readSelector && readSelector(payload, from) !== signal.selectorValue) {
      otherSelector++;
      continue;
    }
    const physical = read(payload, from) * scale + bias;
    time[n] = capture.time[i] as number;
    value[n] = physical;
    valid[n] = physical >= min && physical <= max ? 1 : 0;
    n++;
  }
  return {
    time: time.subarray(0, n),
    value: value.subarray(0, n),
    valid: valid.subarray(0, n),
    tooShort,
    otherSelector,
  };
}

/** Capture indices of the data frames of a message on a bus number, in recorded order. */
export function messageFrames(
  capture: Capture,
  bus: number,
  message: Pick<Message, 'id' | 'extended'>,
): Uint32Array {
  const key = idKey(message.id, message.extended ? FLAG.extended : 0);
  const found = new Uint32Array(capture.count);
  let n = 0;
  for (let i = 0; i < capture.count; i++) {
    const flags = capture.flags[i] as number;
    if (
      capture.bus[i] === bus &&
      idKey(capture.id[i] as number, flags) === key &&
      (flags & (FLAG.remote | FLAG.error)) === 0
    ) {
      found[n++] = i;
    }
  }
  return found.slice(0, n);
}
