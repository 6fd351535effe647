/** The sending side of ISO 15765-2: the frames that carry a payload, and flow control. Layouts as in `isotp.ts`. */
import { isPayloadLength } from '../frame.ts';
import type { FlowControl } from './isotp.ts';

export interface IsoTpSendOptions {
  /** Payload bytes of full frames: 8, or for CAN FD 12, 16, 20, 24, 32, 48 or 64. Default 8. */
  frameLength?: number;
  /** Address byte in front of the frame type (extended and mixed addressing); none by default. */
  address?: number;
  /** Value of unused bytes, default 0xCC; null leaves them out where the frame length allows it. */
  padding?: number | null;
}

/**
 * The payloads of the frames that carry `message`, in order.
 * @throws RangeError for an empty message, one of more than 2³² − 1 bytes, or a frame length that no frame has.
 */
export function isoTpFrames(message: Uint8Array, options: IsoTpSendOptions = {}): Uint8Array[] {
  const { frameLength = 8, address, padding = 0xcc } = options;
  if (frameLength < 8 || !isPayloadLength(frameLength, true)) {
    throw new RangeError(
      `frames of ${frameLength} bytes are not possible; 8, 12, 16, 20, 24, 32, 48 or 64 are`,
    );
  }
  const size = message.length;
  if (size < 1 || size > 0xffff_ffff) {
    throw new RangeError(`a message of ${size} bytes cannot be sent; 1 to 4,294,967,295 bytes can`);
  }
  const front = address === undefined ? [] : [address & 0xff];
  const frame = (head: number[], from: number, to: number) =>
    padded([...front, ...head], message.subarray(from, to), padding);
  if (size <= 7 - front.length) return [frame([size], 0, size)];
  // The escape form is for frames that turn out longer than 8 bytes.
  if (frameLength > 8 && size <= frameLength - front.length - 2) return [frame([0, size], 0, size)];
  const head =
    size <= 4095
      ? [0x10 | (size >> 8), size & 0xff]
      : [0x10, 0, size >>> 24, (size >>> 16) & 0xff, (size >>> 8) & 0xff, size & 0xff];
  let at = frameLength - front.length - head.length;
  const frames = [frame(head, 0, at)];
  const carried = frameLength - front.length - 1;
  for (let part = 1; at < size; part = (part + 1) & 15, at += carried) {
    frames.push(frame([0x20 | part], at, Math.min(size, at + carried)));
  }
  return frames;
}

/** The payload of a flow control frame. */
export function flowControlFrame(
  flow: Pick<FlowControl, 'blockSize' | 'separationS'> & { state: 'continue' | 'wait' | 'overflow' },
  options: Pick<IsoTpSendOptions, 'address' | 'padding'> = {},
): Uint8Array {
  const { address, padding = 0xcc } = options;
  const state = ['continue', 'wait', 'overflow'].indexOf(flow.state);
  const head = [0x30 | state, flow.blockSize & 0xff, separationCode(flow.separationS)];
  return padded(address === undefined ? head : [address & 0xff, ...head], new Uint8Array(0), padding);
}

/** The least code that stands for at least this time, up to 127 ms. */
export function separationCode(seconds: number): number {
  const tenths = Math.ceil(seconds * 10_000 - 1e-9);
  if (tenths <= 0) return 0;
  if (tenths <= 9) return 0xf0 + tenths;
  return Math.min(0x7f, Math.ceil(seconds * 1000 - 1e-9));
}

/** Filled up to 8 bytes, or beyond that to the next length that a CAN FD frame can have. */
function padded(head: readonly number[], data: Uint8Array, padding: number | null): Uint8Array {
  const used = head.length + data.length;
  let length = padding === null ? used : Math.max(8, used);
  while (!isPayloadLength(length, true)) length++;
  const frame = new Uint8Array(length).fill(padding ?? 0xcc);
  frame.set(head, 0);
  frame.set(data, head.length);
  return frame;
}
