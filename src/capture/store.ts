/**
 * A capture in memory: a structure of arrays, one entry per frame, payloads end to end in one buffer.
 * 27 bytes a frame with eight payload bytes; no object per frame anywhere.
 */
import { CaptureError } from './error.ts';

export interface Capture {
  /** Number of frames. */
  readonly count: number;
  /** Time of the first frame in nanoseconds since 1970 (UTC), or 0n where the recording holds relative time only. */
  readonly originNs: bigint;
  /** Seconds since `originNs`, Float64[count]. Kept in recorded order; not necessarily rising. */
  readonly time: Float64Array;
  /** Identifier, Uint32[count]; whether it has 29 bits is in `flags`. */
  readonly id: Uint32Array;
  /** Bus number as the recorder gave it, Uint8[count]. */
  readonly bus: Uint8Array;
  /** Or-ed `FLAG` values, Uint8[count]. */
  readonly flags: Uint8Array;
  /** Payload bytes present, Uint8[count]. For a remote frame: its DLC, with no payload bytes stored. */
  readonly length: Uint8Array;
  /** Where each frame's payload starts in `payload`, Uint32[count]. */
  readonly offset: Uint32Array;
  /** All payloads end to end. */
  readonly payload: Uint8Array;
  /** Names that the recorder gave to buses, by bus number; absent where it gave numbers only. */
  readonly busNames?: ReadonlyMap<number, string>;
}

/** The arrays of a capture while it grows; entries from `CaptureBuilder.count` on are free. */
export interface CaptureColumns {
  time: Float64Array;
  id: Uint32Array;
  bus: Uint8Array;
  flags: Uint8Array;
  length: Uint8Array;
  offset: Uint32Array;
  payload: Uint8Array;
}

/** Offsets are 32-bit, so all payloads together stay below 4 GiB. */
const MAX_PAYLOAD = 0xffff_fff0;
const MAX_FRAMES = 0x2000_0000 - 1;

/** Collects frames into growing arrays; `finish` hands over the capture. */
export class CaptureBuilder {
  originNs = 0n;
  readonly busNames = new Map<number, string>();
  #count = 0;
  #used = 0;
  #columns: CaptureColumns;

  constructor(expectedFrames = 4096) {
    const n = Math.max(16, Math.min(expectedFrames, MAX_FRAMES));
    this.#columns = {
      time: new Float64Array(n),
      id: new Uint32Array(n),
      bus: new Uint8Array(n),
      flags: new Uint8Array(n),
      length: new Uint8Array(n),
      offset: new Uint32Array(n),
      payload: new Uint8Array(Math.min(n * 8, MAX_PAYLOAD)),
    };
  }

  /** Frames added so far. */
  get count(): number {
    return this.#count;
  }

  /** Payload bytes added so far: where the next payload starts. */
  get used(): number {
    return this.#used;
  }

  /**
   * Appends one frame whose payload is `source[from … from + stored)`.
   * `length` is what the frame says (a remote frame has a length and stores nothing).
   * @throws CaptureError when the capture outgrows what one capture can hold
   */
  add(
    time: number,
    bus: number,
    id: number,
    flags: number,
    length: number,
    source: Uint8Array,
    from: number,
    stored: number,
  ): void {
    const i = this.#count;
    const used = this.#used;
    let columns = this.#columns;
    if (i === columns.time.length || used + stored > columns.payload.length)
      columns = this.reserve(1, stored);
    columns.time[i] = time;
    columns.id[i] = id;
    columns.bus[i] = bus;
    columns.flags[i] = flags;
    columns.length[i] = length;
    columns.offset[i] = used;
    const payload = columns.payload;
    for (let k = 0; k < stored; k++) payload[used + k] = source[from + k] as number;
    this.#used = used + stored;
    this.#count = i + 1;
  }

  /**
   * Makes room for `frames` more frames with `bytes` payload bytes in all, for readers that fill the arrays themselves:
   * write from `count` and `used` on, then `commit`. The arrays are valid until the next call.
   * @throws CaptureError when the capture outgrows what one capture can hold
   */
  reserve(frames: number, bytes: number): CaptureColumns {
    const columns = this.#columns;
    const needFrames = this.#count + frames;
    const needBytes = this.#used + bytes;
    if (needFrames > MAX_FRAMES || needBytes > MAX_PAYLOAD) {
      throw new CaptureError(
        `The recording holds more than one capture can (${MAX_FRAMES} frames, 4 GiB of payload): split it into shorter recordings.`,
      );
    }
    if (needFrames > columns.time.length) {
      const n = Math.min(MAX_FRAMES, Math.max(needFrames, Math.ceil(columns.time.length * 1.6)));
      columns.time = moved(columns.time, new Float64Array(n));
      columns.id = moved(columns.id, new Uint32Array(n));
      columns.bus = moved(columns.bus, new Uint8Array(n));
      columns.flags = moved(columns.flags, new Uint8Array(n));
      columns.length = moved(columns.length, new Uint8Array(n));
      columns.offset = moved(columns.offset, new Uint32Array(n));
    }
    if (needBytes > columns.payload.length) {
      const n = Math.min(MAX_PAYLOAD, Math.max(needBytes, Math.ceil(columns.payload.length * 1.6)));
      columns.payload = moved(columns.payload, new Uint8Array(n));
    }
    return columns;
  }

  /** Takes over `frames` frames and `bytes` payload bytes that were written into the reserved room. */
  commit(frames: number, bytes: number): void {
    this.#count += frames;
    this.#used += bytes;
  }

  /** Takes back the frame added last. */
  dropLast(): void {
    if (this.#count === 0) return;
    this.#count--;
    this.#used = this.#columns.offset[this.#count] as number;
  }

  /** Forgets the frames so far and uses their room again: captures that `finish` handed over are no longer valid. */
  clear(): void {
    this.#count = 0;
    this.#used = 0;
  }

  /** The frames so far. Adding more frames afterwards does not change what was handed over. */
  finish(): Capture {
    const n = this.#count;
    const columns = this.#columns;
    return {
      count: n,
      originNs: this.originNs,
      time: fitted(columns.time, n),
      id: fitted(columns.id, n),
      bus: fitted(columns.bus, n),
      flags: fitted(columns.flags, n),
      length: fitted(columns.length, n),
      offset: fitted(columns.offset, n),
      payload: fitted(columns.payload, this.#used),
      ...(this.busNames.size > 0 ? { busNames: new Map(this.busNames) } : {}),
    };
  }
}

/** The first `n` entries: a view where most of the array is used, else a copy, so that room set aside does not linger. */
function fitted<A extends Float64Array | Uint32Array | Uint8Array>(array: A, n: number): A {
  return (2 * n < array.length ? array.slice(0, n) : array.subarray(0, n)) as A;
}

function moved<A extends Float64Array | Uint32Array | Uint8Array>(old: A, bigger: A): A {
  bigger.set(old);
  return bigger;
}
