/** pcapng with the SocketCAN link type: several buses, any time resolution, either byte order; written with one interface per bus. */
import { FLAG } from '../../can/frame.ts';
import { alignedWords, type ByteOrder, firstAligned, hexBytes, joined, u16, u32 } from '../bytes.ts';
import { CaptureError } from '../error.ts';
import { type Interface, InterfaceTable } from '../interfaces.ts';
import { BLOCK, BYTE_ORDER_MAGIC, writePcapng } from '../pcapngWrite.ts';
import { addRecord, keptWords, LONGEST_RECORD, RECORD, RecordLog } from '../socketcan.ts';
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
      this.notes.push(`${this.#damage}; ${keptWords(count)}.`);
    }
    this.notes.push(...this.#interfaces.notes(), ...this.#log.notes());
    if (this.#timeless > 0) {
      this.notes.push(`Simple packet blocks hold no time and were skipped: ${this.#timeless}.`);
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
    this.#into.reserve(Math.ceil((size - p) / (PACKET_LEAST + 8)), size - p);
    const words = alignedWords(bytes);
    while (p + FRAMING <= size) {
      if (words !== null && this.#order === 'little' && (bytes.byteOffset + p) % 4 === 0) {
        p = this.#plainPackets(words, bytes, p);
        if (p + FRAMING > size) break;
      }
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
      else if (type === BLOCK.packet || type === BLOCK.oldPacket) {
        this.#packet(bytes, p, total, order, base);
        if (this.#damage !== null) break;
      } else if (type === BLOCK.simplePacket) this.#timeless++;
      p += total;
    }
    this.#at = base + p;
    return p;
  }

  /** Takes the packet block of `total` bytes at `p`; the older kind differs in its 16-bit interface number only. */
  #packet(bytes: Uint8Array, p: number, total: number, order: ByteOrder, base: number): void {
    const captured = total >= PACKET_LEAST ? u32(bytes, p + 20, order) : 0;
    if (total < PACKET_LEAST || captured > total - PACKET_LEAST) {
      this.#damage = `The packet at byte ${base + p} claims ${captured} bytes of data in a block of ${total}`;
      return;
    }
    const kind = u32(bytes, p, order);
    const face = this.#interfaces.get(
      kind === BLOCK.packet ? u32(bytes, p + 8, order) : u16(bytes, p + 8, order),
    );
    if (face === null) this.#strangers++;
    else if (!face.can) face.foreign++;
    else if (captured > LONGEST_RECORD) this.#log.skip(RECORD.length, base + p);
    else {
      const high = u32(bytes, p + 12, order);
      const low = u32(bytes, p + 16, order);
      if (!face.based) this.#interfaces.setBase(face, high, low);
      const ticks = (high - face.high) * 0x1_0000_0000 + (low - face.low);
      const time = (ticks * face.multiply - face.subtract) / face.divide;
      const options = p + PACKET_HEADER + ((captured + 3) & ~3);
      const sent = isOutbound(bytes, options, p + total - 4, order) ? FLAG.sent : 0;
      const original = u32(bytes, p + 24, order);
      const data = p + PACKET_HEADER;
      const code = addRecord(this.#into, time, face.bus, bytes, data, captured, original, sent);
      if (code !== RECORD.frame) this.#log.skip(code, base + p);
      else {
        if (time < this.#lastTime) this.#log.wentBack(this.#into.count - 1);
        this.#lastTime = time;
      }
    }
  }

  /**
   * Takes packet blocks of one classical data frame without options for as long as they follow each other: word by word,
   * on little-endian machines. Returns where it stopped; room is reserved by the caller.
   */
  #plainPackets(words: Uint32Array, bytes: Uint8Array, from: number): number {
    const into = this.#into;
    const start = (from - firstAligned(bytes)) >> 2;
    const limit = words.length - 12;
    if (start > limit || words[start] !== BLOCK.packet || words[start + 1] !== 48) return from;
    const { time, id, bus, flags, length, offset, payload } = into.reserve(0, 0);
    const payloadWords = new Uint32Array(payload.buffer, 0, payload.length >> 2);
    let n = into.count;
    let used = into.used;
    let last = this.#lastTime;
    let known = -1;
    let onBus = 0;
    let high0 = 0;
    let low0 = 0;
    let multiply = 1;
    let subtract = 0;
    let divide = 1;
    let w = start;
    for (; w <= limit; w += 12) {
      if (words[w] !== BLOCK.packet || words[w + 1] !== 48 || words[w + 11] !== 48) break;
      const idWord = words[w + 7] as number;
      const head = words[w + 8] as number;
      // 16 bytes captured, classical, neither remote nor error: all else takes the general way.
      if (words[w + 5] !== 16 || words[w + 6] === 72 || (head & 0xffff) > 8 || (idWord & 0x60) !== 0) break;
      const which = words[w + 2] as number;
      if (which !== known) {
        const face: Interface | null = this.#interfaces.get(which);
        // Based by its first frame, which came the general way; only CAN interfaces are.
        if (face === null || !face.based) break;
        known = which;
        onBus = face.bus;
        ({ high: high0, low: low0, multiply, subtract, divide } = face);
      }
      const ticks = ((words[w + 3] as number) - high0) * 0x1_0000_0000 + ((words[w + 4] as number) - low0);
      const t = (ticks * multiply - subtract) / divide;
      if (t < last) this.#log.wentBack(n);
      last = t;
      const swapped =
        ((idWord & 0x1f) << 24) | ((idWord & 0xff00) << 8) | ((idWord >>> 8) & 0xff00) | (idWord >>> 24);
      time[n] = t;
      id[n] = idWord & 0x80 ? swapped : swapped & 0x7ff;
      bus[n] = onBus;
      flags[n] = (idWord & 0xff) >>> 7;
      const stored = head & 0xff;
      length[n] = stored;
      offset[n] = used;
      const low = words[w + 9] as number;
      const high = words[w + 10] as number;
      // All eight bytes: what is past `stored` is overwritten by the next frame.
      if ((used & 3) === 0) {
        payloadWords[used >> 2] = low;
        payloadWords[(used >> 2) + 1] = high;
      } else {
        payload[used] = low;
        payload[used + 1] = low >>> 8;
        payload[used + 2] = low >>> 16;
        payload[used + 3] = low >>> 24;
        payload[used + 4] = high;
        payload[used + 5] = high >>> 8;
        payload[used + 6] = high >>> 16;
        payload[used + 7] = high >>> 24;
      }
      used += stored;
      n++;
    }
    into.commit(n - into.count, used - into.used);
    this.#lastTime = last;
    return from + (w - start) * 4;
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
