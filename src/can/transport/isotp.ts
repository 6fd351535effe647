/**
 * Transfers of ISO 15765-2 put together from the frames of one sender: single, first and consecutive frames, classical
 * and CAN FD lengths, escape lengths. Frame layouts as the Linux kernel's Documentation/networking/iso15765-2.rst and a
 * public ISO-TP test suite give them; limits of lengths and what a receiver does with a wrong frame from memory.
 */
import { type FaultReason, HARMLESS, Pieces, type TransferSink } from './sink.ts';

export interface IsoTpOptions {
  /**
   * Payload byte that holds the frame type: 0 with normal addressing, 1 where an address byte comes first (extended
   * addressing: target address; mixed addressing: address extension).
   */
  typeAt: 0 | 1;
  /** Longest wait between two parts, in seconds: N_Bs and N_Cr are 1 s (from memory). */
  timeoutS?: number;
}

/** One flow control frame. */
export interface FlowControl {
  state: 'continue' | 'wait' | 'overflow' | 'reserved';
  /** The state as sent, 0 … 15. */
  code: number;
  /** Parts before the next flow control; 0 = all that are left. */
  blockSize: number;
  /** Least time between two parts; reserved codes stand for the longest, 127 ms. */
  separationS: number;
}

/** What a frame is, by the high half of its type byte. */
export const ISOTP_TYPE = { single: 0, first: 1, consecutive: 2, flow: 3 } as const;

/** Receives the frames of one sender to one address in order. Flow control frames of the other side go to `flow`. */
export class IsoTpReceiver {
  readonly #sink: TransferSink;
  readonly #typeAt: number;
  readonly #timeoutS: number;
  readonly #pieces = new Pieces();
  /** `lost`: parts are passed over until the next start, after a fault that has been reported. */
  #state: 'idle' | 'open' | 'lost' = 'idle';
  #first = -1;
  #last = -1;
  #frames = 0;
  #announced = 0;
  #part = 0;
  #frameLength = 0;
  #lastS = 0;
  #blockSize = 0;
  #inBlock = 0;
  #flowSeen = false;
  #separationS = 0;
  #afterFlow = false;
  #soonestS = Number.POSITIVE_INFINITY;

  constructor(sink: TransferSink, options: IsoTpOptions) {
    this.#sink = sink;
    this.#typeAt = options.typeAt;
    this.#timeoutS = options.timeoutS ?? TIMEOUT_S;
  }

  /** Whether a transfer is under way, so that flow control of the other side is meant for it. */
  get open(): boolean {
    return this.#state === 'open';
  }

  /** Frame number `frame` at `timeS` seconds, with its payload `payload[from … from + length)`. */
  push(frame: number, timeS: number, payload: Uint8Array, from: number, length: number): void {
    const at = from + this.#typeAt;
    const room = length - this.#typeAt;
    if (room < 1) {
      this.#sink.broken('short', frame, -1, 0, 0, length, this.#typeAt + 1);
      return;
    }
    const type = payload[at] as number;
    switch (type >> 4) {
      case ISOTP_TYPE.single:
        this.#single(frame, payload, at, room, length);
        return;
      case ISOTP_TYPE.first:
        this.#start(frame, timeS, payload, at, room, length);
        return;
      case ISOTP_TYPE.consecutive:
        this.#continue(frame, timeS, payload, at, room, length);
        return;
      case ISOTP_TYPE.flow:
        return;
      default:
        this.#sink.broken('reserved', frame, -1, 0, 0, type >> 4, 0);
    }
  }

  /** A flow control frame that the receiver of this transfer sent. */
  flow(frame: number, timeS: number, flow: FlowControl): void {
    if (this.#state !== 'open') {
      if (this.#state === 'idle') this.#sink.broken('strayFlow', frame, -1, 0, 0, flow.code, 0);
      return;
    }
    if (this.#late(frame, timeS)) return;
    this.#lastS = timeS;
    if (flow.state === 'overflow') {
      this.#drop('overflow', frame, 0, 0);
      return;
    }
    if (flow.state === 'reserved') {
      this.#drop('reserved', frame, flow.code, 0);
      return;
    }
    if (flow.state === 'wait') return;
    this.#flowSeen = true;
    this.#afterFlow = true;
    this.#blockSize = flow.blockSize;
    this.#inBlock = 0;
    this.#separationS = flow.separationS;
  }

  /** The recording is over. */
  end(): void {
    if (this.#state === 'open') this.#drop('unfinished', -1, this.#pieces.length, this.#announced);
    this.#state = 'idle';
  }

  #single(frame: number, payload: Uint8Array, at: number, room: number, length: number): void {
    this.#interrupt(frame);
    let size = (payload[at] as number) & 15;
    let head = 1;
    // Frames longer than 8 bytes have their length in a byte of its own, and half a byte 0 before it.
    if (length > 8) {
      if (size !== 0 || room < 2) {
        this.#refuse('badLength', frame, size, 0);
        return;
      }
      size = payload[at + 1] as number;
      head = 2;
    }
    if (size < 1) {
      this.#refuse('badLength', frame, size, 1);
      return;
    }
    if (size > room - head) {
      this.#refuse('short', frame, length, length - room + head + size);
      return;
    }
    this.#sink.whole(frame, frame, 1, payload, at + head, size);
  }

  #start(frame: number, timeS: number, payload: Uint8Array, at: number, room: number, length: number): void {
    this.#interrupt(frame);
    if (length < 8) {
      this.#refuse('short', frame, length, 8);
      return;
    }
    let size = (((payload[at] as number) & 15) << 8) | (payload[at + 1] as number);
    let head = 2;
    if (size === 0) {
      head = 6;
      for (let k = 2; k < 6; k++) size = size * 256 + (payload[at + k] as number);
      if (size <= LONGEST_SHORT) {
        this.#refuse('badLength', frame, size, LONGEST_SHORT + 1);
        return;
      }
    }
    // What fits a single frame may not be cut: 7 bytes in 8 (6 with an address byte), in CAN FD two less than the frame.
    const least = length === 8 ? room : room - 1;
    if (size < least) {
      this.#refuse('badLength', frame, size, least);
      return;
    }
    this.#state = 'open';
    this.#first = frame;
    this.#last = frame;
    this.#frames = 1;
    this.#announced = size;
    this.#part = 1;
    this.#frameLength = length;
    this.#lastS = timeS;
    this.#flowSeen = false;
    this.#inBlock = 0;
    this.#blockSize = 0;
    this.#separationS = 0;
    this.#afterFlow = true;
    this.#soonestS = Number.POSITIVE_INFINITY;
    this.#pieces.clear();
    this.#pieces.add(payload, at + head, room - head);
  }

  #continue(
    frame: number,
    timeS: number,
    payload: Uint8Array,
    at: number,
    room: number,
    length: number,
  ): void {
    const part = (payload[at] as number) & 15;
    if (this.#state !== 'open') {
      if (this.#state === 'idle') this.#sink.broken('noStart', frame, -1, 0, 0, part, 0);
      this.#state = 'lost';
      return;
    }
    if (this.#late(frame, timeS)) return;
    if (part !== this.#part) {
      this.#drop('wrongNumber', frame, part, this.#part);
      return;
    }
    const left = this.#announced - this.#pieces.length;
    const carried = this.#frameLength - this.#typeAt - 1;
    const needed = Math.min(left, carried);
    if (room - 1 < needed) {
      this.#drop('short', frame, length, length - room + 1 + needed);
      return;
    }
    this.#pace(frame, timeS);
    this.#pieces.add(payload, at + 1, needed);
    this.#part = (part + 1) & 15;
    this.#last = frame;
    this.#frames++;
    this.#lastS = timeS;
    if (this.#pieces.length < this.#announced) return;
    this.#state = 'idle';
    if (this.#soonestS < Number.POSITIVE_INFINITY) {
      const { length: got } = this.#pieces;
      const due = this.#separationS * 1000;
      this.#sink.broken('tooSoon', frame, this.#first, got, got, this.#soonestS * 1000, due);
    }
    this.#sink.whole(this.#first, this.#last, this.#frames, this.#pieces.bytes, 0, this.#announced);
  }

  /** Checks block size and separation time against the flow control that was seen, if any was. */
  #pace(frame: number, timeS: number): void {
    if (!this.#flowSeen) return;
    this.#inBlock++;
    if (this.#blockSize > 0 && this.#inBlock === this.#blockSize + 1) {
      const { length } = this.#pieces;
      this.#sink.broken(
        'noFlow',
        frame,
        this.#first,
        length,
        this.#announced,
        this.#inBlock,
        this.#blockSize,
      );
    }
    // The time counts between parts; the one after a flow control may come at once.
    if (!this.#afterFlow) {
      const gap = timeS - this.#lastS;
      if (gap < this.#separationS * (1 - STAMP_SLACK) - STAMP_S && gap < this.#soonestS) this.#soonestS = gap;
    }
    this.#afterFlow = false;
  }

  #late(frame: number, timeS: number): boolean {
    const gap = timeS - this.#lastS;
    if (gap <= this.#timeoutS) return false;
    this.#drop('timeout', frame, gap * 1000, this.#timeoutS * 1000);
    return true;
  }

  #interrupt(frame: number): void {
    if (this.#state === 'open') this.#drop('interrupted', frame, 0, this.#announced - this.#pieces.length);
    this.#state = 'idle';
  }

  /** A start that is wrong in itself; parts that follow it are passed over. */
  #refuse(reason: FaultReason, frame: number, found: number, due: number): void {
    this.#state = 'lost';
    this.#sink.broken(reason, frame, frame, 0, 0, found, due);
  }

  #drop(reason: FaultReason, frame: number, found: number, due: number): void {
    if (!HARMLESS.has(reason)) this.#state = 'lost';
    this.#sink.broken(reason, frame, this.#first, this.#pieces.length, this.#announced, found, due);
  }
}

/** The flow control frame in `payload[from … from + length)`, or null where the frame is none. */
export function flowControl(
  payload: Uint8Array,
  from: number,
  length: number,
  typeAt: 0 | 1,
): FlowControl | null {
  if (length < typeAt + 3) return null;
  const type = payload[from + typeAt] as number;
  if (type >> 4 !== ISOTP_TYPE.flow) return null;
  const code = type & 15;
  return {
    state: (['continue', 'wait', 'overflow'] as const)[code] ?? 'reserved',
    code,
    blockSize: payload[from + typeAt + 1] as number,
    separationS: separationSeconds(payload[from + typeAt + 2] as number),
  };
}

/** Separation time of its code: 00–7F whole milliseconds, F1–F9 tenths of one; reserved codes count as 127 ms (from memory). */
export function separationSeconds(code: number): number {
  if (code >= 0xf1 && code <= 0xf9) return (code - 0xf0) / 10_000;
  return Math.min(code, 0x7f) / 1000;
}

const TIMEOUT_S = 1;
/** Greatest length that a first frame has in 12 bits. */
const LONGEST_SHORT = 4095;
/** Stamps are not exact: a tenth of the time, and what a coarse recorder rounds away. */
const STAMP_SLACK = 0.1;
const STAMP_S = 0.0002;
