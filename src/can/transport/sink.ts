/** Where the decoders of multi-frame transfers hand over what they put together, and what they say of broken ones. */

/**
 * Receives transfers and faults as plain numbers, so that nothing is allocated per frame. Frames are named by the number
 * that the caller pushed them with.
 */
export interface TransferSink {
  /** A whole transfer, in `bytes[from … from + length)`; the bytes are valid during the call only. */
  whole(first: number, last: number, frames: number, bytes: Uint8Array, from: number, length: number): void;
  broken(
    reason: FaultReason,
    /** Frame at which it showed; −1 at the end of the recording. */
    frame: number,
    /** Frame with which the transfer began; −1 where none had begun. */
    first: number,
    /** Bytes that had come, and bytes that were announced. */
    received: number,
    announced: number,
    /** What was there and what was due; their meaning is in `FAULT_WORDS`. */
    found: number,
    due: number,
  ): void;
}

export type FaultReason = keyof typeof FAULT_WORDS;

/** Faults after which the transfer still counts; after all others it is dropped. */
export const HARMLESS: ReadonlySet<FaultReason> = new Set(['noFlow', 'tooSoon', 'strayFlow']);

/** One sentence a reason: what was found and what would be right. */
export const FAULT_WORDS = {
  noStart: (found: number) =>
    `part ${found} of a transfer whose start is not in the recording; recording from before the transfer shows it whole`,
  wrongNumber: (found: number, due: number) =>
    `part ${found} came where part ${due} was due: a frame is missing, repeated or from another sender`,
  interrupted: (_found: number, due: number) =>
    `a new transfer began while ${due} bytes of this one were missing`,
  timeout: (found: number, due: number) =>
    `the next part came after ${found.toFixed(0)} ms; at most ${due.toFixed(0)} ms may pass`,
  short: (found: number, due: number) => `a frame of ${found} bytes where at least ${due} are needed`,
  badLength: (found: number, due: number) =>
    `a length of ${found} bytes is announced; this kind of transfer begins at or ends with ${due}`,
  reserved: (found: number) => `frame type ${found} is reserved and has no meaning`,
  overflow: () => 'the receiver has no room for it and said so',
  aborted: (found: number) => `one side gave it up with reason ${found}`,
  unfinished: (found: number, due: number) =>
    `the recording ends after ${found} of ${due} bytes; a longer one shows it whole`,
  notConfirmed: (found: number, due: number) => `the receiver confirms ${found} bytes, ${due} were announced`,
  noFlow: (found: number, due: number) =>
    `part ${found} of a block came although the receiver asked to wait after ${due}`,
  tooSoon: (found: number, due: number) =>
    `parts came ${found.toFixed(2)} ms apart; the receiver asked for at least ${due.toFixed(2)} ms`,
  strayFlow: (found: number) => `flow control (state ${found}) that no transfer waits for`,
} as const satisfies Record<string, (found: number, due: number) => string>;

/** The sentence of one fault. */
export function faultWords(reason: FaultReason, found: number, due: number): string {
  return (FAULT_WORDS[reason] as (found: number, due: number) => string)(found, due);
}

/** Bytes of one transfer as they come; grows with what came, never with what was announced. */
export class Pieces {
  bytes = new Uint8Array(64);
  length = 0;

  clear(): void {
    this.length = 0;
  }

  add(source: Uint8Array, from: number, count: number): void {
    const need = this.length + count;
    if (need > this.bytes.length) {
      const bigger = new Uint8Array(Math.max(need, 2 * this.bytes.length));
      bigger.set(this.bytes.subarray(0, this.length));
      this.bytes = bigger;
    }
    const { bytes, length } = this;
    for (let k = 0; k < count; k++) bytes[length + k] = source[from + k] as number;
    this.length = need;
  }
}
