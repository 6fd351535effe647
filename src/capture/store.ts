/**
 * A capture in memory: a structure of arrays, one entry per frame, payloads end to end in one buffer.
 * 27 bytes a frame with eight payload bytes; no object per frame anywhere.
 */

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
}

/** Collects frames one at a time into growing arrays; `finish` hands over the capture without copying per frame. */
export class CaptureBuilder {
  originNs = 0n;
  #count = 0;
  #used = 0;
  #time: Float64Array;
  #id: Uint32Array;
  #bus: Uint8Array;
  #flags: Uint8Array;
  #length: Uint8Array;
  #offset: Uint32Array;
  #payload: Uint8Array;

  constructor(expectedFrames = 4096) {
    const n = Math.max(16, expectedFrames);
    this.#time = new Float64Array(n);
    this.#id = new Uint32Array(n);
    this.#bus = new Uint8Array(n);
    this.#flags = new Uint8Array(n);
    this.#length = new Uint8Array(n);
    this.#offset = new Uint32Array(n);
    this.#payload = new Uint8Array(n * 8);
  }

  get count(): number {
    return this.#count;
  }

  /**
   * Appends one frame whose payload is `source[from … from + stored)`.
   * `length` is what the frame says (a remote frame has a length and stores nothing).
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
    if (i === this.#time.length) this.#growFrames();
    while (this.#used + stored > this.#payload.length) this.#payload = grown(this.#payload);
    this.#time[i] = time;
    this.#id[i] = id;
    this.#bus[i] = bus;
    this.#flags[i] = flags;
    this.#length[i] = length;
    this.#offset[i] = this.#used;
    const payload = this.#payload;
    let at = this.#used;
    for (let k = from; k < from + stored; k++) payload[at++] = source[k] as number;
    this.#used = at;
    this.#count = i + 1;
  }

  finish(): Capture {
    const n = this.#count;
    return {
      count: n,
      originNs: this.originNs,
      time: this.#time.subarray(0, n),
      id: this.#id.subarray(0, n),
      bus: this.#bus.subarray(0, n),
      flags: this.#flags.subarray(0, n),
      length: this.#length.subarray(0, n),
      offset: this.#offset.subarray(0, n),
      payload: this.#payload.subarray(0, this.#used),
    };
  }

  #growFrames(): void {
    this.#time = grown(this.#time);
    this.#id = grown(this.#id);
    this.#bus = grown(this.#bus);
    this.#flags = grown(this.#flags);
    this.#length = grown(this.#length);
    this.#offset = grown(this.#offset);
  }
}

function grown<A extends Float64Array | Uint32Array | Uint8Array>(old: A): A {
  const bigger = new (old.constructor as new (n: number) => A)(Math.ceil(old.length * 1.5));
  bigger.set(old);
  return bigger;
}
