/** Frames of several data groups put into one recording: by their place where the file holds it, else by time. */
import { storedLength } from '../select.ts';
import type { Capture, CaptureBuilder } from '../store.ts';

export interface Part {
  capture: Capture;
  /** Place of each frame in the recording; null where the group does not hold it. */
  order: Uint32Array | null;
}

/**
 * Appends the frames of all parts. Each part keeps its own order; between parts the frame with the lesser key goes first,
 * at equal keys that of the earlier part.
 * Each step gives the share that is done, 0–1.
 */
export function* mergeParts(
  into: CaptureBuilder,
  parts: readonly Part[],
): Generator<number, void, undefined> {
  const filled = parts.filter((part) => part.capture.count > 0);
  const heads = new Heads(filled);
  const all = filled.reduce((sum, { capture }) => sum + capture.count, 0);
  let done = 0;
  for (let part = heads.first; part !== null; part = heads.first) {
    const { capture } = filled[part] as Part;
    const i = heads.next();
    if ((++done & 0xffff) === 0) yield done / all;
    into.add(
      capture.time[i] as number,
      capture.bus[i] as number,
      capture.id[i] as number,
      capture.flags[i] as number,
      capture.length[i] as number,
      capture.payload,
      capture.offset[i] as number,
      storedLength(capture, i),
    );
  }
}

/** The next frame of each part, as a binary heap: recorders may write a group for each message. */
class Heads {
  readonly #parts: readonly Part[];
  readonly #keys: readonly (Uint32Array | Float64Array)[];
  readonly #at: Uint32Array;
  readonly #heap: number[];

  constructor(parts: readonly Part[]) {
    this.#parts = parts;
    const ordered = parts.every((part) => part.order !== null);
    this.#keys = parts.map(({ capture, order }) => (ordered && order ? order : capture.time));
    this.#at = new Uint32Array(parts.length);
    this.#heap = parts.map((_, k) => k);
    for (let k = (parts.length >> 1) - 1; k >= 0; k--) this.#sink(k);
  }

  /** The part whose frame goes next; null where all are done. */
  get first(): number | null {
    return this.#heap[0] ?? null;
  }

  /** Index of that frame in its part; the part then moves on. */
  next(): number {
    const heap = this.#heap;
    const part = heap[0] as number;
    const i = this.#at[part] as number;
    this.#at[part] = i + 1;
    if (i + 1 === (this.#parts[part] as Part).capture.count) {
      const last = heap.pop() as number;
      if (heap.length > 0) heap[0] = last;
    }
    this.#sink(0);
    return i;
  }

  #sink(from: number): void {
    const heap = this.#heap;
    for (let k = from; ; ) {
      let least = k;
      for (const child of [2 * k + 1, 2 * k + 2])
        if (child < heap.length && this.#before(child, least)) least = child;
      if (least === k) return;
      [heap[k], heap[least]] = [heap[least] as number, heap[k] as number];
      k = least;
    }
  }

  #before(a: number, b: number): boolean {
    const one = this.#heap[a] as number;
    const other = this.#heap[b] as number;
    const key = this.#keys[one]?.[this.#at[one] as number] as number;
    const otherKey = this.#keys[other]?.[this.#at[other] as number] as number;
    return key < otherKey || (key === otherKey && one < other);
  }
}
