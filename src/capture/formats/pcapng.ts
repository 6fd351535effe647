/** pcapng with the SocketCAN link type: several buses, any time resolution, either byte order; written with one interface per bus. */
import { FLAG } from '../../can/frame.ts';
import { type ByteOrder, byteOffsets, hexBytes, joined, u16, u32 } from '../bytes.ts';
import { CaptureError } from '../error.ts';
import { type Interface, InterfaceTable } from '../interfaces.ts';
import { BLOCK, BYTE_ORDER_MAGIC, writePcapng } from '../pcapngWrite.ts';
import { addRecord, LONGEST_RECORD, RECORD, RecordLog } from '../socketcan.ts';
import type { CaptureBuilder } from '../store.ts';
import type { CaptureFormat, CaptureReader } from './format.ts';

export const pcapng: CaptureFormat = {
  name: 'pcapng',
  words: 'pcapng with the SocketCAN link type, several buses',
  extensions: ['.pcapng'],
  recognises: (head) => head.length >= 4 && u32(head, 0, 'big') === BLOCK.section,
  open: (into) => new PcapngReader(into),
  write: writePcapng,
};

/** Blocks that are read are small; one that claims more than this is damage. */
const LONGEST_BLOCK = 1 << 20;
/** Type, length and length again: what every block has. */
const FRAMING = 12;
/** Bytes of an enhanced packet block before its data, and its length behind. */
const PACKET_HEADER = 28;
const PACKET_LEAST = PACKET_HEADER + 4;

class PcapngReader implements CaptureReader {
  guess = '';
  notes: string[] = [];
  readonly #into: CaptureBuilder;
  readonly #log = new RecordLog();
  readonly #interfaces: InterfaceTable;
  #order: ByteOrder | null = null;
  #held: Uint8Array = new Uint8Array(0);
  /** Offset in the recording of the next byte that was not taken. */
  #at = 0;
  /** Bytes of an unread block that are still to come. */
  #skip = 0;
  #lastTime = Number.NEGATIVE_INFINITY;
  /** Set where the recording is damaged: nothing behind it is read. */
  #damage: string | null = null;
  #timeless = 0;
  #strangers = 0;

  constructor(into: CaptureBuilder) {
    this.#into = into;
    this.#interfaces = new InterfaceTable(into);
  }

  push(piece: Uint8Array): void {
    let from = 0;
    while (this.#damage === null && this.#held.length > 0) {
      // Completes the block whose start is held, copying no more than that.
      const need = this.#needed(this.#held);
      const take = Math.min(need - this.#held.length, piece.length - from);
      const both = joined(this.#held, piece, from, from + take);
      this.#held = both;
      from += take;
      if (both.length < need) return;
      if (this.#needed(both) > both.length) continue;
      this.#blocks(both, 0);
      this.#held = new Uint8Array(0);
    }
    if (this.#damage !== null) return;
    const end = this.#blocks(piece, from);
    if (this.#damage === null && end < piece.length) this.#held = piece.slice(end);
  }

  end(): void {
    const held = this.#held.length;
    if (this.#order === null && this.#damage === null) {
      if (held === 0) throw new CaptureError('The recording is empty: 0 bytes.');
      if (held >= FRAMING || u32(this.#held, 0, 'big') !== BLOCK.section) throw wrongMagic(this.#held);
      throw new CaptureError(
        `The pcapng section header is cut short: it has at least 28 bytes and the recording ends after ${held}.`,
      );
    }
    const count = this.#into.count;
    if (this.#damage === null && (held > 0 || this.#skip > 0)) {
      this.#damage = `The last block is cut short at byte ${this.#at + held}`;
    }
    if (this.#damage !== null) {
      if (count === 0) throw new CaptureError(`${this.#damage}; no frame stands before it.`);
      this.notes.push(`${this.#damage}; the ${count} frames before it are kept.`);
    }
    this.notes.push(...this.#interfaces.notes(), ...this.#log.notes());
    if (this.#timeless > 0) {
      this.notes.push(`Packets without a time were skipped: ${this.#timeless} simple packet blocks.`);
    }
    if (this.#strangers > 0) {
      this.notes.push(`Packets of an interface that was never described were skipped: ${this.#strangers}.`);
    }
    if (count === 0) {
      throw new CaptureError(
        this.#interfaces.refusal() ?? `The pcapng recording holds no frame${this.#log.firstSkipped}.`,
      );
    }
    this.guess = `pcapng, SocketCAN, ${this.#interfaces.words()}, ${this.#order}-endian`;
  }

  /** Bytes that must be there before the block that starts with `held` can be taken, as far as they tell. */
  #needed(held: Uint8Array): number {
    if (held.length < FRAMING) return FRAMING;
    const order = sectionOrder(held, 0) ?? this.#order;
    if (order === null) return FRAMING;
    const total = u32(held, 4, order);
    return isRead(u32(held, 0, order)) && total <= LONGEST_BLOCK ? Math.max(FRAMING, total) : FRAMING;
  }

  /** Takes all whole blocks from `bytes[from …)`; returns where the first incomplete one starts. */
  #blocks(bytes: Uint8Array, from: number): number {
    const size = bytes.length;
    const base = this.#at - from;
    let p = from + Math.min(this.#skip, size - from);
    this.#skip -= p - from;
    while (p + FRAMING <= size) {
      const order = sectionOrder(bytes, p) ?? this.#order;
      if (order === null) throw wrongMagic(bytes.subarray(p));
      this.#order = order;
      const type = u32(bytes, p, order);
      const total = u32(bytes, p + 4, order);
      if (total < FRAMING || total % 4 !== 0 || (isRead(type) && total > LONGEST_BLOCK)) {
        this.#damage = `The block at byte ${base + p} claims ${total} bytes, which no such block has`;
        break;
      }
      if (p + total > size) {
        if (isRead(type)) break;
        this.#skip = p + total - size;
        p = size;
        break;
      }
      if (type === BLOCK.packet) {
        p = this.#packets(bytes, p, order, base);
        if (this.#damage !== null) break;
        continue;
      }
      const again = u32(bytes, p + total - 4, order);
      if (again !== total) {
        this.#damage = `The block at byte ${base + p} starts with the length ${total} and ends with ${again}`;
        break;
      }
      if (type === BLOCK.section) {
        const major = u16(bytes, p + 12, order);
        if (total < 28 || major !== 1) {
          this.#damage = `The section at byte ${base + p} has ${total < 28 ? `${total} bytes` : `version ${major}`}; right would be ${total < 28 ? '28 or more' : 'version 1'}`;
          break;
        }
        this.#interfaces.newSection();
      } else if (type === BLOCK.interface) this.#interfaces.add(bytes, p, total, order);
      else if (type === BLOCK.oldPacket) this.#oldPacket(bytes, p, total, order, base);
      else if (type === BLOCK.simplePacket) this.#timeless++;
      p += total;
    }
    this.#at = base + p;
    return p;
  }

  /** Takes enhanced packet blocks for as long as whole ones follow each other; returns where it stopped. */
  #packets(bytes: Uint8Array, from: number, order: ByteOrder, base: number): number {
    const size = bytes.length;
    const [b0, b1, b2, b3] = byteOffsets(order);
    const word = (at: number): number =>
      ((bytes[at + b0] as number) |
        ((bytes[at + b1] as number) << 8) |
        ((bytes[at + b2] as number) << 16) |
        ((bytes[at + b3] as number) << 24)) >>>
      0;
    const into = this.#into;
    const room = Math.ceil((size - from) / (PACKET_LEAST + 8));
    const { time, id, bus, flags, length, offset, payload } = into.reserve(room, size - from);
    let n = into.count;
    let used = into.used;
    let last = this.#lastTime;
    let p = from;
    let known = -1;
    let face: Interface | null = null;
    while (p + PACKET_LEAST <= size && word(p) === BLOCK.packet) {
      const total = word(p + 4);
      const captured = word(p + 20);
      if (p + total > size && total <= LONGEST_BLOCK) break;
      if (total < PACKET_LEAST || total % 4 !== 0 || total > LONGEST_BLOCK || word(p + total - 4) !== total) {
        this.#damage = `The packet at byte ${base + p} claims a length of ${total} bytes that its end does not confirm`;
        break;
      }
      if (captured > total - PACKET_LEAST) {
        this.#damage = `The packet at byte ${base + p} claims ${captured} bytes of data in a block of ${total}`;
        break;
      }
      const which = word(p + 8);
      if (which !== known) {
        face = this.#interfaces.get(which);
        known = which;
      }
      if (face === null || !face.can || captured > LONGEST_RECORD) {
        if (face === null) this.#strangers++;
        else if (!face.can) face.foreign++;
        else this.#log.skip(RECORD.length, base + p);
        p += total;
        continue;
      }
      const high = word(p + 12);
      const low = word(p + 16);
      if (!face.based) this.#interfaces.setBase(face, high, low);
      const ticks = (high - face.high) * 0x1_0000_0000 + (low - face.low);
      const t = (ticks * face.multiply - face.subtract) / face.divide;
      const at = p + PACKET_HEADER;
      const top = bytes[at] as number;
      const stored = bytes[at + 4] as number;
      if (
        total === 48 &&
        captured === 16 &&
        stored <= 8 &&
        bytes[at + 5] === 0 &&
        (top & 0x60) === 0 &&
        word(p + 24) !== 72
      ) {
        if (t < last) this.#log.wentBack(n);
        last = t;
        const idWord =
          ((top & 0x1f) << 24) |
          ((bytes[at + 1] as number) << 16) |
          ((bytes[at + 2] as number) << 8) |
          (bytes[at + 3] as number);
        time[n] = t;
        id[n] = top & 0x80 ? idWord : idWord & 0x7ff;
        bus[n] = face.bus;
        flags[n] = top >>> 7;
        length[n] = stored;
        offset[n] = used;
        // All eight bytes: what is past `stored` is overwritten by the next frame.
        for (let k = 0; k < 8; k++) payload[used + k] = bytes[at + 8 + k] as number;
        used += stored;
        n++;
      } else {
        into.commit(n - into.count, used - into.used);
        const options = at + ((captured + 3) & ~3);
        const sent = isOutbound(bytes, options, p + total - 4, order) ? FLAG.sent : 0;
        const code = addRecord(into, t, face.bus, bytes, at, captured, word(p + 24), sent);
        if (code === RECORD.frame) {
          if (t < last) this.#log.wentBack(n);
          last = t;
        } else this.#log.skip(code, base + p);
        n = into.count;
        used = into.used;
      }
      p += total;
    }
    into.commit(n - into.count, used - into.used);
    this.#lastTime = last;
    return p;
  }

  /** The packet block that came before the enhanced one: the same, with a 16-bit interface number. */
  #oldPacket(bytes: Uint8Array, p: number, total: number, order: ByteOrder, base: number): void {
    const captured = total >= PACKET_LEAST ? u32(bytes, p + 20, order) : 0;
    const face = total >= PACKET_LEAST ? this.#interfaces.get(u16(bytes, p + 8, order)) : null;
    if (face === null) this.#strangers++;
    else if (!face.can) face.foreign++;
    else if (captured > Math.min(total - PACKET_LEAST, LONGEST_RECORD))
      this.#log.skip(RECORD.length, base + p);
    else {
      const high = u32(bytes, p + 12, order);
      const low = u32(bytes, p + 16, order);
      if (!face.based) this.#interfaces.setBase(face, high, low);
      const ticks = (high - face.high) * 0x1_0000_0000 + (low - face.low);
      const t = (ticks * face.multiply - face.subtract) / face.divide;
      const n = this.#into.count;
      const original = u32(bytes, p + 24, order);
      const code = addRecord(this.#into, t, face.bus, bytes, p + PACKET_HEADER, captured, original, 0);
      if (code !== RECORD.frame) this.#log.skip(code, base + p);
      else {
        if (t < this.#lastTime) this.#log.wentBack(n);
        this.#lastTime = t;
      }
    }
  }
}

/** Whether the options of a packet say that it was sent: epb_flags (code 2), bits 0–1 = 10. */
function isOutbound(bytes: Uint8Array, from: number, to: number, order: ByteOrder): boolean {
  let at = from;
  while (at + 4 <= to) {
    const code = u16(bytes, at, order);
    const size = u16(bytes, at + 2, order);
    if (code === 0) return false;
    if (code === 2 && size === 4 && at + 8 <= to) return (u32(bytes, at + 4, order) & 3) === 2;
    at += 4 + ((size + 3) & ~3);
  }
  return false;
}

/** Byte order of the section that starts at `at`; null where none starts there. Needs 12 bytes. */
function sectionOrder(bytes: Uint8Array, at: number): ByteOrder | null {
  if (u32(bytes, at, 'big') !== BLOCK.section) return null;
  if (u32(bytes, at + 8, 'little') === BYTE_ORDER_MAGIC) return 'little';
  return u32(bytes, at + 8, 'big') === BYTE_ORDER_MAGIC ? 'big' : null;
}

/** Block types whose content is read; the length of others may be anything. */
function isRead(type: number): boolean {
  return (
    type === BLOCK.section || type === BLOCK.interface || type === BLOCK.packet || type === BLOCK.oldPacket
  );
}

function wrongMagic(head: Uint8Array): CaptureError {
  return new CaptureError(
    `This is not pcapng: it starts with ${hexBytes(head.subarray(0, Math.min(12, head.length)))} at byte 0; right would be 0A 0D 0D 0A, a length, and 4D 3C 2B 1A or 1A 2B 3C 4D.`,
  );
}
