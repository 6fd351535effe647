/** The bytes of a data group cut into records: sorted (one kind, end to end) or unsorted (each behind its record id). */

import { CaptureError } from '../error.ts';
import { u64 } from './blocks.ts';
import type { FrameTaker } from './frames.ts';
import type { DataGroup } from './groups.ts';
import type { Trouble } from './trouble.ts';

type Pieces = Iterable<Uint8Array>;

/** What is done with each kind of record of an unsorted group; kinds without an entry are passed over. */
export interface RecordUse {
  frames: ReadonlyMap<number, FrameTaker>;
  /** By record id: collects the values of a channel group of variable length. */
  values: ReadonlyMap<number, ValueCollector>;
}

/** Values that are longer are damage: the longest payload of a frame has 64 bytes, of other buses some thousand. */
const LONGEST_VALUE = 1 << 24;
/** All values of a recording together. */
const MOST_VALUE_BYTES = 2 ** 31;

/** Bytes after which readers of records give way. */
const STEP = 1 << 18;

/** Takes at most `most` records of `size` bytes; one that was begun and not ended is left. A step is one piece. */
export function* readSorted(
  pieces: Pieces,
  size: number,
  most: number,
  taker: FrameTaker,
): Generator<void, void, undefined> {
  const begun = new Uint8Array(size);
  let held = 0;
  let left = most;
  for (const piece of pieces) {
    yield;
    let p = 0;
    if (held > 0) {
      p = Math.min(size - held, piece.length);
      begun.set(piece.subarray(0, p), held);
      held += p;
      if (held < size) continue;
      held = 0;
      if (left === 0) break;
      taker.takeRun(begun, 0, size, 1);
      left--;
    }
    const count = Math.min(left, Math.floor((piece.length - p) / size));
    taker.takeRun(piece, p, size, count);
    p += count * size;
    left -= count;
    if (left === 0) break;
    begun.set(piece.subarray(p));
    held = piece.length - p;
  }
}

/** Walks the records of an unsorted group in the order in which they were written. */
export function* readUnsorted(
  pieces: Pieces,
  group: DataGroup,
  use: RecordUse,
  trouble: Trouble,
): Generator<void, void, undefined> {
  const idSize = group.recordIdSize;
  const kinds = new Map(group.groups.map((g) => [g.recordId, g]));
  const bytes = new ByteQueue(pieces);
  const where = `The data of the DG block at byte ${group.at}`;
  let stepped = 0;
  for (;;) {
    const start = bytes.taken;
    if (start - stepped >= STEP) {
      stepped = start;
      yield;
    }
    const id = bytes.number(idSize);
    if (id === null) {
      if (bytes.taken > start) trouble.say(`${where} ends within a record id`);
      return;
    }
    const kind = kinds.get(id);
    if (!kind) {
      trouble.say(`${where} has a record of id ${id} at its byte ${start}, which no group describes`);
      return;
    }
    let size = kind.dataBytes + kind.invalidBytes;
    if (!kind.variable) {
      // Records of one kind often follow each other: all of them that stand in one piece are taken together.
      const stride = idSize + size;
      const count = bytes.repeats(id, idSize, size);
      if (count > 0) {
        use.frames.get(id)?.takeRun(bytes.piece, bytes.at, stride, count);
        bytes.skip(count * stride - idSize);
        continue;
      }
    }
    if (kind.variable) {
      const length = bytes.number(4);
      size = length ?? 0;
      if (length === null || size > LONGEST_VALUE) {
        trouble.say(
          length !== null
            ? `${where} has a value of ${size} bytes at its byte ${start}, which no frame has`
            : `${where} ends within a value`,
        );
        return;
      }
    }
    const record = bytes.take(size);
    if (record === null) {
      trouble.say(`${where} ends within a record of ${size} bytes`);
      return;
    }
    if (kind.variable) use.values.get(id)?.add(record);
    else use.frames.get(id)?.takeRun(record, 0, size, 1);
  }
}

/** Puts values of variable length end to end as an SD block has them, each behind its length. */
export class ValueCollector {
  #bytes = new Uint8Array(1024);
  #used = 0;

  get bytes(): Uint8Array {
    return this.#bytes.subarray(0, this.#used);
  }

  /** Adds one value behind its length. */
  add(value: Uint8Array): void {
    this.#room(4 + value.length);
    new DataView(this.#bytes.buffer).setUint32(this.#used, value.length, true);
    this.#bytes.set(value, this.#used + 4);
    this.#used += 4 + value.length;
  }

  /** Adds the bytes of an SD block. */
  addRaw(bytes: Uint8Array): void {
    this.#room(bytes.length);
    this.#bytes.set(bytes, this.#used);
    this.#used += bytes.length;
  }

  #room(more: number): void {
    const need = this.#used + more;
    if (need <= this.#bytes.length) return;
    if (need > MOST_VALUE_BYTES) {
      throw new CaptureError(
        'The payloads of variable length take more than 2 GiB: split the recording into shorter ones.',
      );
    }
    const bigger = new Uint8Array(Math.min(MOST_VALUE_BYTES, Math.max(need, this.#bytes.length * 2)));
    bigger.set(this.#bytes.subarray(0, this.#used));
    this.#bytes = bigger;
  }
}

/** Takes bytes off the front of pieces: as a view where they stand in one piece, else copied together. */
class ByteQueue {
  /** Bytes taken so far. */
  taken = 0;
  /** The piece that is being taken, and where in it. */
  piece: Uint8Array = new Uint8Array(0);
  at = 0;
  readonly #pieces: Iterator<Uint8Array>;

  constructor(pieces: Pieces) {
    this.#pieces = pieces[Symbol.iterator]();
  }

  /**
   * How many records of `size` bytes stand whole in this piece from here on, each of the further ones behind `id` in
   * `idSize` bytes; 0 where not even the first does.
   */
  repeats(id: number, idSize: number, size: number): number {
    const { piece } = this;
    if (this.at + size > piece.length) return 0;
    let count = 1;
    for (let p = this.at + size; p + idSize + size <= piece.length; p += idSize + size, count++) {
      if (littleEndian(piece, p, idSize) !== id) break;
    }
    return count;
  }

  /** The number in the next `size` bytes; Infinity beyond 2^53, null where fewer are left. */
  number(size: number): number | null {
    if (this.at + size <= this.piece.length) {
      const value = littleEndian(this.piece, this.at, size);
      this.skip(size);
      return value;
    }
    const bytes = this.take(size);
    return bytes ? littleEndian(bytes, 0, size) : null;
  }

  /** Passes over bytes of this piece. */
  skip(count: number): void {
    this.at += count;
    this.taken += count;
  }

  /** The next `count` bytes; null where fewer are left, which are then gone. */
  take(count: number): Uint8Array | null {
    if (this.at + count <= this.piece.length) {
      const view = this.piece.subarray(this.at, this.at + count);
      this.at += count;
      this.taken += count;
      return view;
    }
    const all: Uint8Array[] = [];
    let missing = count;
    while (missing > 0) {
      if (this.at === this.piece.length) {
        const next = this.#pieces.next();
        if (next.done) return null;
        this.piece = next.value;
        this.at = 0;
      }
      const part = this.piece.subarray(this.at, this.at + missing);
      all.push(part);
      this.at += part.length;
      this.taken += part.length;
      missing -= part.length;
    }
    const joined = new Uint8Array(count);
    let at = 0;
    for (const part of all) {
      joined.set(part, at);
      at += part.length;
    }
    return joined;
  }
}

function littleEndian(bytes: Uint8Array, at: number, size: number): number {
  if (size === 8) return u64(bytes, at);
  let value = 0;
  for (let k = size - 1; k >= 0; k--) value = value * 256 + (bytes[at + k] as number);
  return value;
}
