/**
 * Fast packets of NMEA 2000: up to 223 bytes in up to 32 frames of one identifier. Byte 0 of every frame holds a sequence
 * number (3 bits, high) and the number of the frame (5 bits); byte 1 of frame 0 the total length. Layout from memory; it
 * is checked on a public recording in test/outside.
 */
import { type FaultReason, Pieces, type TransferSink } from './sink.ts';

/** Greatest length: 6 bytes in frame 0 and 7 in each of 31 more. */
export const FAST_PACKET_LONGEST = 223;

/** Receives the frames of one identifier in order; packets of different sequence numbers may be interleaved. */
export class FastPacketReceiver {
  readonly #sink: TransferSink;
  readonly #slots: (Slot | null)[] = [null, null, null, null, null, null, null, null];

  constructor(sink: TransferSink) {
    this.#sink = sink;
  }

  push(frame: number, timeS: number, payload: Uint8Array, from: number, length: number): void {
    if (length < 2) {
      this.#sink.broken('short', frame, -1, 0, 0, length, 2);
      return;
    }
    const head = payload[from] as number;
    const sequence = head >> 5;
    const number = head & 31;
    const slot = (this.#slots[sequence] ??= new Slot());
    if (number === 0) this.#start(slot, frame, timeS, payload, from, length);
    else this.#continue(slot, number, frame, timeS, payload, from, length);
  }

  end(): void {
    for (const slot of this.#slots) {
      if (slot?.state === 'open') this.#drop(slot, 'unfinished', -1, slot.pieces.length, slot.announced);
    }
  }

  #start(slot: Slot, frame: number, timeS: number, payload: Uint8Array, from: number, length: number): void {
    if (slot.state === 'open') {
      this.#drop(slot, 'interrupted', frame, 0, slot.announced - slot.pieces.length);
    }
    const size = payload[from + 1] as number;
    slot.state = 'lost';
    if (size > FAST_PACKET_LONGEST) {
      this.#sink.broken('badLength', frame, frame, 0, size, size, FAST_PACKET_LONGEST);
      return;
    }
    const take = Math.min(6, size);
    if (length < take + 2) {
      this.#sink.broken('short', frame, frame, 0, size, length, take + 2);
      return;
    }
    if (size <= 6) {
      slot.state = 'idle';
      this.#sink.whole(frame, frame, 1, payload, from + 2, size);
      return;
    }
    slot.state = 'open';
    slot.first = frame;
    slot.frames = 1;
    slot.announced = size;
    slot.lastS = timeS;
    slot.pieces.clear();
    slot.pieces.add(payload, from + 2, 6);
  }

  #continue(
    slot: Slot,
    number: number,
    frame: number,
    timeS: number,
    payload: Uint8Array,
    from: number,
    length: number,
  ): void {
    if (slot.state !== 'open') {
      if (slot.state === 'idle') this.#sink.broken('noStart', frame, -1, 0, 0, number, 0);
      slot.state = 'lost';
      return;
    }
    const gap = timeS - slot.lastS;
    if (gap > TIMEOUT_S) {
      this.#drop(slot, 'timeout', frame, gap * 1000, TIMEOUT_S * 1000);
      return;
    }
    if (number !== slot.frames) {
      this.#drop(slot, 'wrongNumber', frame, number, slot.frames);
      return;
    }
    const take = Math.min(7, slot.announced - slot.pieces.length);
    if (length < take + 1) {
      this.#drop(slot, 'short', frame, length, take + 1);
      return;
    }
    slot.pieces.add(payload, from + 1, take);
    slot.frames++;
    slot.lastS = timeS;
    if (slot.pieces.length < slot.announced) return;
    slot.state = 'idle';
    this.#sink.whole(slot.first, frame, slot.frames, slot.pieces.bytes, 0, slot.announced);
  }

  #drop(slot: Slot, reason: FaultReason, frame: number, found: number, due: number): void {
    slot.state = 'lost';
    this.#sink.broken(reason, frame, slot.first, slot.pieces.length, slot.announced, found, due);
  }
}

class Slot {
  state: 'idle' | 'open' | 'lost' = 'idle';
  first = -1;
  frames = 0;
  announced = 0;
  lastS = 0;
  readonly pieces = new Pieces();
}

/** Longest wait for the next frame (from memory). */
const TIMEOUT_S = 0.75;
