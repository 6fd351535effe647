/** pcap with the SocketCAN link type: one bus, microseconds or nanoseconds, either byte order; written little-endian in nanoseconds. */
import { FLAG } from '../../can/frame.ts';
import { alignedWords, type ByteOrder, firstAligned, hexBytes, joined, u32 } from '../bytes.ts';
import { CaptureError } from '../error.ts';
import {
  addRecord,
  keptWords,
  LINKTYPE_CAN_SOCKETCAN,
  LONGEST_RECORD,
  RECORD,
  RecordLog,
  recordSize,
  writeRecord,
  wrongLinkType,
} from '../socketcan.ts';
import type { Capture, CaptureBuilder } from '../store.ts';
import { checkFrames } from '../writable.ts';
import type { CaptureFormat, CaptureReader, WriteOptions } from './format.ts';

export const pcap: CaptureFormat = {
  name: 'pcap',
  words: 'pcap with the SocketCAN link type, one bus',
  extensions: ['.pcap', '.cap'],
  recognises: (head) => magicOf(head) !== null,
  open: (into) => new PcapReader(into),
  lost: lostInPcap,
  write: writePcap,
};

const FILE_HEADER = 24;
const RECORD_HEADER = 16;
/** Times from 1973 on count as absolute; smaller numbers are times since the recorder started. */
const ABSOLUTE_S = 1e8;

interface Magic {
  order: ByteOrder;
  /** Parts of a second in the fraction field. */
  parts: 1e6 | 1e9;
}

class PcapReader implements CaptureReader {
  guess = '';
  notes: string[] = [];
  readonly #into: CaptureBuilder;
  readonly #log = new RecordLog();
  #magic: Magic | null = null;
  #held: Uint8Array = new Uint8Array(0);
  /** Offset in the recording of the next byte that was not taken. */
  #at = 0;
  #started = false;
  #originSeconds = 0;
  #originParts = 0;
  #lastTime = Number.NEGATIVE_INFINITY;
  /** Set where the recording is damaged: nothing behind it is read. */
  #damage: string | null = null;

  constructor(into: CaptureBuilder) {
    this.#into = into;
  }

  push(piece: Uint8Array): void {
    if (this.#damage !== null) return;
    let from = 0;
    while (this.#held.length > 0 || this.#magic === null) {
      // Completes the header or record whose start is held, copying no more than that.
      const need = this.#needed(this.#held);
      const take = Math.min(need - this.#held.length, piece.length - from);
      const both = joined(this.#held, piece, from, from + take);
      this.#held = both;
      from += take;
      if (both.length < need) return;
      if (this.#magic === null) this.#open(both);
      else if (this.#needed(both) > both.length) continue;
      else this.#records(both, 0);
      this.#held = new Uint8Array(0);
      if (this.#damage !== null) return;
    }
    const end = this.#records(piece, from);
    if (this.#damage === null && end < piece.length) this.#held = piece.slice(end);
  }

  end(): void {
    if (this.#magic === null) {
      if (this.#held.length === 0) throw new CaptureError('The recording is empty: 0 bytes.');
      if (magicOf(this.#held) === null) throw wrongMagic(this.#held);
      throw new CaptureError(
        `The pcap header is cut short: it has 24 bytes and the recording ends after ${this.#held.length}.`,
      );
    }
    const count = this.#into.count;
    if (this.#damage === null && this.#held.length > 0) {
      this.#damage = `The last record is cut short at byte ${this.#at + this.#held.length}`;
    }
    if (this.#damage !== null) {
      if (count === 0) throw new CaptureError(`${this.#damage}; no frame stands before it.`);
      this.notes.push(`${this.#damage}; ${keptWords(count)}.`);
    }
    this.notes.push(...this.#log.notes());
    if (count === 0) {
      throw new CaptureError(`The pcap recording holds no frame${this.#log.firstSkipped}.`);
    }
  }

  /** Bytes that the header or record whose start is `held` has in all. */
  #needed(held: Uint8Array): number {
    if (this.#magic === null) return FILE_HEADER;
    if (held.length < RECORD_HEADER) return RECORD_HEADER;
    return RECORD_HEADER + Math.min(u32(held, 8, this.#magic.order), LONGEST_RECORD);
  }

  #open(header: Uint8Array): void {
    const magic = magicOf(header);
    if (magic === null) throw wrongMagic(header);
    const linkType = u32(header, 20, magic.order) & 0x0fff_ffff;
    if (linkType !== LINKTYPE_CAN_SOCKETCAN) throw new CaptureError(wrongLinkType(linkType, 'at byte 20'));
    this.#magic = magic;
    this.#at = FILE_HEADER;
    this.guess = `pcap, SocketCAN, ${magic.parts === 1e9 ? 'nanoseconds' : 'microseconds'}, ${magic.order}-endian`;
  }

  /** Takes all whole records from `bytes[from …)`; returns where the first incomplete one starts. */
  #records(bytes: Uint8Array, from: number): number {
    const { order, parts } = this.#magic as Magic;
    const size = bytes.length;
    if (size - from < RECORD_HEADER) return from;
    if (!this.#started) this.#begin(u32(bytes, from, order), u32(bytes, from + 4, order), parts);
    const into = this.#into;
    into.reserve(Math.ceil((size - from) / (RECORD_HEADER + 8)), size - from);
    const words = order === 'little' ? alignedWords(bytes) : null;
    const base = this.#at - from;
    let p = from;
    while (p + RECORD_HEADER <= size) {
      if (words !== null && (bytes.byteOffset + p) % 4 === 0) {
        const end = this.#plainRecords(words, bytes, p);
        if (end !== p) {
          p = end;
          continue;
        }
      }
      const captured = u32(bytes, p + 8, order);
      const at = p + RECORD_HEADER;
      if (captured > LONGEST_RECORD) {
        this.#damage = `The record at byte ${base + p} claims ${captured} bytes, more than any CAN frame has`;
        break;
      }
      if (at + captured > size) break;
      const time = this.#seconds(u32(bytes, p, order), u32(bytes, p + 4, order), parts);
      const code = addRecord(into, time, 0, bytes, at, captured, u32(bytes, p + 12, order), 0);
      if (code !== RECORD.frame) this.#log.skip(code, base + p);
      else {
        if (time < this.#lastTime) this.#log.wentBack(into.count - 1);
        this.#lastTime = time;
      }
      p = at + captured;
    }
    this.#at = base + p;
    return p;
  }

  /**
   * Takes classical data frames in records of 16 bytes for as long as they follow each other, as they do in most
   * recordings: word by word, on little-endian machines. Returns where it stopped; room is reserved by the caller.
   */
  #plainRecords(words: Uint32Array, bytes: Uint8Array, from: number): number {
    const parts = (this.#magic as Magic).parts;
    const originSeconds = this.#originSeconds;
    const originParts = this.#originParts;
    const into = this.#into;
    const start = (from - firstAligned(bytes)) >> 2;
    const limit = words.length - 8;
    if (start > limit || words[start + 2] !== 16) return from;
    const { time, id, flags, length, offset, payload } = into.reserve(0, 0);
    const payloadWords = new Uint32Array(payload.buffer, 0, payload.length >> 2);
    let n = into.count;
    let used = into.used;
    let last = this.#lastTime;
    let w = start;
    for (; w <= limit; w += 8) {
      const idWord = words[w + 4] as number;
      const head = words[w + 5] as number;
      // 16 bytes captured, classical, neither remote nor error: all else takes the general way.
      if (words[w + 2] !== 16 || words[w + 3] === 72 || (head & 0xffff) > 8 || (idWord & 0x60) !== 0) break;
      const t =
        (((words[w] as number) - originSeconds) * parts + ((words[w + 1] as number) - originParts)) / parts;
      if (t < last) this.#log.wentBack(n);
      last = t;
      const swapped =
        ((idWord & 0x1f) << 24) | ((idWord & 0xff00) << 8) | ((idWord >>> 8) & 0xff00) | (idWord >>> 24);
      time[n] = t;
      id[n] = idWord & 0x80 ? swapped : swapped & 0x7ff;
      flags[n] = (idWord & 0xff) >>> 7;
      const stored = head & 0xff;
      length[n] = stored;
      offset[n] = used;
      const low = words[w + 6] as number;
      const high = words[w + 7] as number;
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

  /** Seconds since the origin. One rounding only: the difference in parts of a second is exact below 2^53. */
  #seconds(seconds: number, fraction: number, parts: number): number {
    return ((seconds - this.#originSeconds) * parts + (fraction - this.#originParts)) / parts;
  }

  #begin(seconds: number, fraction: number, parts: number): void {
    this.#started = true;
    if (seconds < ABSOLUTE_S) return;
    this.#originSeconds = seconds;
    this.#originParts = fraction;
    this.#into.originNs = BigInt(seconds) * 1_000_000_000n + BigInt(fraction) * BigInt(1e9 / parts);
  }
}

const PIECE = 1 << 18;

/** What pcap does not hold of this capture, one sentence each. */
function lostInPcap({ flags, bus, busNames, count }: Capture): string[] {
  const lost: string[] = [];
  const sent = flags.reduce((sum, flag) => sum + (flag & FLAG.sent ? 1 : 0), 0);
  if (sent > 0)
    lost.push(
      `pcap does not say that ${sent === 1 ? 'one frame was' : `${sent} frames were`} sent by the recorder itself; pcapng does.`,
    );
  if (count > 0 && (bus[0] !== 0 || busNames?.has(0)))
    lost.push(
      `pcap does not say which bus it was (${busNames?.get(bus[0] as number) ?? bus[0]}); pcapng does.`,
    );
  return lost;
}

function* writePcap(
  capture: Capture,
  { onFrames }: WriteOptions = {},
): Generator<Uint8Array, void, undefined> {
  checkFrames(capture);
  const other = capture.bus.findIndex((bus) => bus !== capture.bus[0]);
  if (other >= 0) {
    throw new CaptureError(
      `Frame ${other} is of bus ${capture.bus[other]}, frame 0 of bus ${capture.bus[0]}: pcap holds one bus; write pcapng, or choose one bus.`,
    );
  }
  let out = new Uint8Array(PIECE);
  let view = new DataView(out.buffer);
  view.setUint32(0, 0xa1b2_3c4d, true);
  view.setUint16(4, 2, true);
  view.setUint16(6, 4, true);
  view.setUint32(16, 0x4_0000, true);
  view.setUint32(20, LINKTYPE_CAN_SOCKETCAN, true);
  const originSeconds = Number(capture.originNs / 1_000_000_000n);
  const restNs = Number(capture.originNs % 1_000_000_000n);
  let at = FILE_HEADER;
  for (let i = 0; i < capture.count; i++) {
    const size = recordSize(capture, i);
    if (at + RECORD_HEADER + size > out.length) {
      onFrames?.(i);
      yield out.subarray(0, at);
      out = new Uint8Array(PIECE);
      view = new DataView(out.buffer);
      at = 0;
    }
    const sum = restNs + Math.round((capture.time[i] as number) * 1e9);
    const whole = Math.floor(sum / 1e9);
    const seconds = originSeconds + whole;
    if (!(seconds >= 0 && seconds <= 0xffff_ffff)) {
      throw new CaptureError(
        `Frame ${i} is at ${seconds} s: pcap holds times from 0 to 4294967295 s after 1970 only; write pcapng.`,
      );
    }
    view.setUint32(at, seconds, true);
    view.setUint32(at + 4, sum - whole * 1e9, true);
    view.setUint32(at + 8, size, true);
    view.setUint32(at + 12, size, true);
    at += RECORD_HEADER;
    at += writeRecord(capture, i, out, at);
  }
  yield out.subarray(0, at);
}

function magicOf(head: Uint8Array): Magic | null {
  if (head.length < 4) return null;
  switch (u32(head, 0, 'little')) {
    case 0xa1b2_c3d4:
      return { order: 'little', parts: 1e6 };
    case 0xa1b2_3c4d:
      return { order: 'little', parts: 1e9 };
    case 0xd4c3_b2a1:
      return { order: 'big', parts: 1e6 };
    case 0x4d3c_b2a1:
      return { order: 'big', parts: 1e9 };
    default:
      return null;
  }
}

function wrongMagic(head: Uint8Array): CaptureError {
  return new CaptureError(
    `This is not pcap: it starts with ${hexBytes(head.subarray(0, 4))} at byte 0; right would be D4 C3 B2 A1 or 4D 3C B2 A1 (little-endian), A1 B2 C3 D4 or A1 B2 3C 4D (big-endian).`,
  );
}
