/** Transfers as a structure of arrays, and the faults beside them. */
import type { FaultReason } from '../../can/transport/sink.ts';

/** How a transfer travelled; its place is the code in `Transfers.kind`. */
export const TRANSFER_KINDS = ['isoTp', 'broadcast', 'toUnit', 'extended', 'fastPacket'] as const;
export type TransferKind = (typeof TRANSFER_KINDS)[number];

/** Whole transfers, in the order in which they ended. Frames are indices into the capture. */
export interface Transfers {
  readonly count: number;
  /** Place in `TRANSFER_KINDS`. */
  readonly kind: Uint8Array;
  readonly bus: Uint8Array;
  /** Identifier of the first frame as `idKey` gives it. */
  readonly idKey: Uint32Array;
  /** Address byte in front of the frame type (extended and mixed addressing), −1 where there is none. */
  readonly address: Int16Array;
  /** Parameter group of J1939 and NMEA 2000, −1 for ISO 15765-2. */
  readonly group: Int32Array;
  readonly firstFrame: Uint32Array;
  readonly lastFrame: Uint32Array;
  readonly frames: Uint32Array;
  /** Payloads end to end: `bytes[offset … offset + length)`. */
  readonly offset: Uint32Array;
  readonly length: Uint32Array;
  readonly bytes: Uint8Array;
}

/** A transfer that did not come whole, or came whole against the receiver's wishes (`HARMLESS`). */
export interface TransferFault {
  reason: FaultReason;
  kind: TransferKind;
  bus: number;
  idKey: number;
  address: number;
  group: number;
  /** Frame at which it showed; −1 at the end of the recording. */
  frame: number;
  /** Frame with which the transfer began; −1 where none had begun. */
  first: number;
  received: number;
  announced: number;
  found: number;
  due: number;
}

/** Collects transfers; `only` hands over those that are kept. */
export class TransferTable {
  count = 0;
  used = 0;
  link = new Uint32Array(64);
  first = new Uint32Array(64);
  last = new Uint32Array(64);
  frames = new Uint32Array(64);
  group = new Int32Array(64);
  kind = new Uint8Array(64);
  length = new Uint32Array(64);
  bytes = new Uint8Array(1024);

  add(
    link: number,
    kind: number,
    group: number,
    first: number,
    last: number,
    frames: number,
    bytes: Uint8Array,
    from: number,
    length: number,
  ): void {
    const k = this.count++;
    if (k === this.link.length) this.#growRows();
    if (this.used + length > this.bytes.length) this.#growBytes(this.used + length);
    this.link[k] = link;
    this.kind[k] = kind;
    this.group[k] = group;
    this.first[k] = first;
    this.last[k] = last;
    this.frames[k] = frames;
    this.length[k] = length;
    const { bytes: own, used } = this;
    for (let i = 0; i < length; i++) own[used + i] = bytes[from + i] as number;
    this.used = used + length;
  }

  /** The transfers of links for which `keeps` holds; a link gives bus, identifier and address. */
  only(
    links: readonly { bus: number; idKey: number; address: number }[],
    keeps: (link: number) => boolean,
  ): Transfers {
    let count = 0;
    let used = 0;
    const kept = links.map((_, k) => keeps(k));
    for (let k = 0; k < this.count; k++) {
      if (!kept[this.link[k] as number]) continue;
      count++;
      used += this.length[k] as number;
    }
    const out = {
      count,
      kind: new Uint8Array(count),
      bus: new Uint8Array(count),
      idKey: new Uint32Array(count),
      address: new Int16Array(count),
      group: new Int32Array(count),
      firstFrame: new Uint32Array(count),
      lastFrame: new Uint32Array(count),
      frames: new Uint32Array(count),
      offset: new Uint32Array(count),
      length: new Uint32Array(count),
      bytes: new Uint8Array(used),
    };
    let at = 0;
    let source = 0;
    let n = 0;
    for (let k = 0; k < this.count; k++) {
      const size = this.length[k] as number;
      const link = this.link[k] as number;
      if (kept[link]) {
        const of = links[link] as { bus: number; idKey: number; address: number };
        out.kind[n] = this.kind[k] as number;
        out.bus[n] = of.bus;
        out.idKey[n] = of.idKey;
        out.address[n] = of.address;
        out.group[n] = this.group[k] as number;
        out.firstFrame[n] = this.first[k] as number;
        out.lastFrame[n] = this.last[k] as number;
        out.frames[n] = this.frames[k] as number;
        out.offset[n] = at;
        out.length[n] = size;
        out.bytes.set(this.bytes.subarray(source, source + size), at);
        at += size;
        n++;
      }
      source += size;
    }
    return out;
  }

  #growRows(): void {
    const n = 2 * this.link.length;
    this.link = moved(this.link, new Uint32Array(n));
    this.first = moved(this.first, new Uint32Array(n));
    this.last = moved(this.last, new Uint32Array(n));
    this.frames = moved(this.frames, new Uint32Array(n));
    this.group = moved(this.group, new Int32Array(n));
    this.kind = moved(this.kind, new Uint8Array(n));
    this.length = moved(this.length, new Uint32Array(n));
  }

  #growBytes(need: number): void {
    this.bytes = moved(this.bytes, new Uint8Array(Math.max(need, 2 * this.bytes.length)));
  }
}

function moved<A extends Uint32Array | Int32Array | Uint8Array>(old: A, bigger: A): A {
  bigger.set(old);
  return bigger;
}
