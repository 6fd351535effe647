/**
 * Transfers of SAE J1939-21 (9–1785 bytes: to all with BAM, to one unit with request and clear to send) and the extended
 * ones of ISO 11783-3 (up to 117,440,505 bytes, to one unit). Limits as in the Linux kernel's
 * Documentation/networking/j1939.rst; layouts of the control messages and timeouts from memory.
 */
import { type FaultReason, Pieces, type TransferSink } from './sink.ts';

/** PDU formats (bits 16–25 of the identifier) that carry transfers. */
export const TP_FORMAT = { control: 0xec, data: 0xeb, extendedControl: 0xc8, extendedData: 0xc7 } as const;

export type J1939TransferKind = 'broadcast' | 'toUnit' | 'extended';

/** One connection: one sender to one destination (255 = all), ordinary or extended. */
export class J1939Receiver {
  readonly #sink: TransferSink;
  readonly #extended: boolean;
  readonly #pieces = new Pieces();
  #state: 'idle' | 'open' | 'lost' = 'idle';
  /** How the transfer handed over last, or under way, is sent. */
  kind: J1939TransferKind = 'toUnit';
  /** Parameter group of the transfer handed over last, or under way. */
  group = 0;
  #first = -1;
  #frames = 0;
  #announced = 0;
  /** Number of the next packet, from 1. */
  #packet = 1;
  /** Extended: packet numbers count from here. */
  #base = 0;
  #lastS = 0;

  constructor(sink: TransferSink, form: 'ordinary' | 'extended') {
    this.#sink = sink;
    this.#extended = form === 'extended';
  }

  /** Whether a transfer is under way. */
  get open(): boolean {
    return this.#state === 'open';
  }

  /** A control message from the sender to the receiver of this connection. */
  control(frame: number, timeS: number, payload: Uint8Array, from: number, length: number): void {
    if (length < 8) {
      this.#sink.broken('short', frame, -1, 0, 0, length, 8);
      return;
    }
    const code = payload[from] as number;
    if (code === CONTROL.abort) {
      this.#abort(frame, payload, from);
      return;
    }
    if (this.#extended) {
      if (code === CONTROL.extendedRequest) {
        const size = little(payload, from + 1, 4);
        this.#start(
          frame,
          timeS,
          'extended',
          size,
          little(payload, from + 5, 3),
          LONGEST + 1,
          LONGEST_EXTENDED,
        );
      } else if (code === CONTROL.offset) this.#offset(frame, timeS, payload, from);
      return;
    }
    const size = little(payload, from + 1, 2);
    const group = little(payload, from + 5, 3);
    if (code === CONTROL.request) this.#start(frame, timeS, 'toUnit', size, group, SHORTEST, LONGEST);
    else if (code === CONTROL.toAll) this.#start(frame, timeS, 'broadcast', size, group, SHORTEST, LONGEST);
  }

  /** A control message from the receiver back to the sender. */
  answer(frame: number, timeS: number, payload: Uint8Array, from: number, length: number): void {
    if (length < 8) {
      this.#sink.broken('short', frame, -1, 0, 0, length, 8);
      return;
    }
    const code = payload[from] as number;
    if (code === CONTROL.abort) {
      this.#abort(frame, payload, from);
      return;
    }
    if (this.#state !== 'open') return;
    if (code === CONTROL.clear) {
      this.#lastS = timeS;
      const next = payload[from + 2] as number;
      // Asked for again: what came of it counts no more. 0 packets mean: wait.
      if ((payload[from + 1] as number) > 0 && next >= 1 && next < this.#packet) this.#back(next);
    } else if (code === CONTROL.extendedClear) {
      this.#lastS = timeS;
      const next = little(payload, from + 2, 3);
      if ((payload[from + 1] as number) > 0 && next >= 1 && next < this.#packet) this.#back(next);
    }
  }

  /** A data message. */
  data(frame: number, timeS: number, payload: Uint8Array, from: number, length: number): void {
    if (length < 1) {
      this.#sink.broken('short', frame, -1, 0, 0, length, 8);
      return;
    }
    const number = payload[from] as number;
    if (this.#state !== 'open') {
      if (this.#state === 'idle') this.#sink.broken('noStart', frame, -1, 0, 0, number, 0);
      this.#state = 'lost';
      return;
    }
    const gap = timeS - this.#lastS;
    if (gap > TIMEOUT_S) {
      this.#drop('timeout', frame, gap * 1000, TIMEOUT_S * 1000);
      return;
    }
    const due = this.#packet - this.#base;
    if (number !== due) {
      this.#drop('wrongNumber', frame, number, due);
      return;
    }
    const take = Math.min(7, this.#announced - this.#pieces.length);
    if (length - 1 < take) {
      this.#drop('short', frame, length, take + 1);
      return;
    }
    this.#pieces.add(payload, from + 1, take);
    this.#packet++;
    this.#frames++;
    this.#lastS = timeS;
    if (this.#pieces.length < this.#announced) return;
    this.#state = 'idle';
    this.#sink.whole(this.#first, frame, this.#frames, this.#pieces.bytes, 0, this.#announced);
  }

  end(): void {
    if (this.#state === 'open') this.#drop('unfinished', -1, this.#pieces.length, this.#announced);
    this.#state = 'idle';
  }

  #start(
    frame: number,
    timeS: number,
    kind: J1939TransferKind,
    size: number,
    group: number,
    least: number,
    most: number,
  ): void {
    if (this.#state === 'open') this.#drop('interrupted', frame, 0, this.#announced - this.#pieces.length);
    if (size < least || size > most) {
      this.#state = 'lost';
      this.#sink.broken('badLength', frame, frame, 0, size, size, size < least ? least : most);
      return;
    }
    this.#state = 'open';
    this.kind = kind;
    this.group = group & 0x3ffff;
    this.#first = frame;
    this.#frames = 1;
    this.#announced = size;
    this.#packet = 1;
    this.#base = 0;
    this.#lastS = timeS;
    this.#pieces.clear();
  }

  /** The sender says which packet its numbers 1, 2, 3 … count from. */
  #offset(frame: number, timeS: number, payload: Uint8Array, from: number): void {
    if (this.#state !== 'open') {
      if (this.#state === 'idle') this.#sink.broken('noStart', frame, -1, 0, 0, 0, 0);
      this.#state = 'lost';
      return;
    }
    const offset = little(payload, from + 2, 3);
    if (offset !== this.#packet - 1) {
      this.#drop('wrongNumber', frame, offset + 1, this.#packet);
      return;
    }
    this.#base = offset;
    this.#frames++;
    this.#lastS = timeS;
  }

  #back(next: number): void {
    this.#packet = next;
    this.#pieces.length = 7 * (next - 1);
    if (!this.#extended) this.#base = 0;
  }

  #abort(frame: number, payload: Uint8Array, from: number): void {
    if (this.#state === 'open') this.#drop('aborted', frame, payload[from + 1] as number, 0);
  }

  #drop(reason: FaultReason, frame: number, found: number, due: number): void {
    this.#state = 'lost';
    this.#sink.broken(reason, frame, this.#first, this.#pieces.length, this.#announced, found, due);
  }
}

/** Whether a control code is sent by the receiver of a connection. */
export function isReceiversControl(code: number): boolean {
  return (
    code === CONTROL.clear ||
    code === CONTROL.received ||
    code === CONTROL.extendedClear ||
    code === CONTROL.extendedReceived
  );
}

export const CONTROL = {
  request: 16,
  clear: 17,
  received: 19,
  toAll: 32,
  abort: 255,
  extendedRequest: 20,
  extendedClear: 21,
  offset: 22,
  extendedReceived: 23,
} as const;

/** T2 and T3, the longest waits of receiver and sender (from memory). */
const TIMEOUT_S = 1.25;
const SHORTEST = 9;
const LONGEST = 1785;
/** 2²⁴ − 1 packets of 7 bytes. */
const LONGEST_EXTENDED = 117_440_505;

function little(bytes: Uint8Array, from: number, count: number): number {
  let value = 0;
  for (let k = count - 1; k >= 0; k--) value = value * 256 + (bytes[from + k] as number);
  return value;
}
