/** A sink that keeps all it is given, for tests. */
import { type FaultReason, faultWords, type TransferSink } from '../../../src/can/transport/sink.ts';

export interface Kept {
  first: number;
  last: number;
  frames: number;
  bytes: number[];
}

export class Collector implements TransferSink {
  readonly transfers: Kept[] = [];
  readonly faults: { reason: FaultReason; frame: number; first: number; received: number; words: string }[] =
    [];

  whole(first: number, last: number, frames: number, bytes: Uint8Array, from: number, length: number): void {
    this.transfers.push({ first, last, frames, bytes: [...bytes.subarray(from, from + length)] });
  }

  broken(
    reason: FaultReason,
    frame: number,
    first: number,
    received: number,
    _announced: number,
    found: number,
    due: number,
  ): void {
    this.faults.push({ reason, frame, first, received, words: faultWords(reason, found, due) });
  }

  get reasons(): FaultReason[] {
    return this.faults.map((f) => f.reason);
  }
}

export const hex = (text: string): Uint8Array =>
  Uint8Array.from(text.replaceAll(' ', '').match(/../g) ?? [], (b) => Number.parseInt(b, 16));

/** 0, 1, 2 … as bytes. */
export const rising = (count: number): Uint8Array => Uint8Array.from({ length: count }, (_, i) => i);
