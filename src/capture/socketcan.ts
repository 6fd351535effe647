/**
 * The SocketCAN link type of packet captures, LINKTYPE_CAN_SOCKETCAN = 227: an 8-byte header (big-endian identifier word,
 * length, FD flags, two spare bytes) and the payload. Shared by pcap and pcapng.
 */
import { FLAG, isPayloadLength } from '../can/frame.ts';
import { storedLength } from './select.ts';
import type { Capture, CaptureBuilder } from './store.ts';

export const LINKTYPE_CAN_SOCKETCAN = 227;

/** A record is at most a CAN XL frame of 12 + 2048 bytes; anything beyond this is damage, not a frame. */
export const LONGEST_RECORD = 4096;

/** Why a record gave no frame; 0 = it gave one. */
export const RECORD = { frame: 0, short: 1, xl: 2, length: 3, cut: 4 } as const;

const RECORD_WORDS = [
  'a frame',
  'fewer than the 8 bytes of a frame header',
  'a CAN XL frame, which is not supported',
  'a payload length that no frame has',
  'a frame cut short by the snapshot length of the recorder; record with 72 bytes or more',
];

/**
 * Appends the record `bytes[from … from + captured)` as a frame; returns a `RECORD` code.
 * `original` is its length on the wire, `sent` is `FLAG.sent` or 0.
 */
export function addRecord(
  into: CaptureBuilder,
  time: number,
  bus: number,
  bytes: Uint8Array,
  from: number,
  captured: number,
  original: number,
  sent: number,
): number {
  if (captured < 8) return RECORD.short;
  const length = bytes[from + 4] as number;
  if (length & 0x80) return RECORD.xl;
  const fdFlags = bytes[from + 5] as number;
  const top = bytes[from] as number;
  let flags = sent;
  if (original === 72 || fdFlags & 0x04) {
    flags |= FLAG.fd;
    if (fdFlags & 0x01) flags |= FLAG.bitRateSwitch;
    if (fdFlags & 0x02) flags |= FLAG.errorState;
  }
  if (!isPayloadLength(length, (flags & FLAG.fd) !== 0)) return RECORD.length;
  if (top & 0x80) flags |= FLAG.extended;
  if (top & 0x40) flags |= FLAG.remote;
  if (top & 0x20) flags |= FLAG.error;
  let id =
    ((top & 0x1f) << 24) |
    ((bytes[from + 1] as number) << 16) |
    ((bytes[from + 2] as number) << 8) |
    (bytes[from + 3] as number);
  // A base identifier has 11 bits; in an error message the word holds classes of error instead.
  if ((flags & (FLAG.extended | FLAG.error)) === 0) id &= 0x7ff;
  const stored = flags & FLAG.remote ? 0 : length;
  if (captured < 8 + stored) return RECORD.cut;
  into.add(time, bus, id, flags, length, bytes, from + 8, stored);
  return RECORD.frame;
}

/** Bytes of the record of frame `i`: 16 for classical frames, 72 for FD, as the Linux kernel hands them over. */
export function recordSize(capture: Capture, i: number): number {
  return (capture.flags[i] as number) & FLAG.fd ? 72 : 16;
}

/**
 * Writes the record of frame `i` at `out[at …)`, zeros behind the payload included; returns its size. The frame is one of
 * those that `checkFrames` lets pass.
 */
export function writeRecord(capture: Capture, i: number, out: Uint8Array, at: number): number {
  const id = capture.id[i] as number;
  const flags = capture.flags[i] as number;
  const length = capture.length[i] as number;
  const size = recordSize(capture, i);
  const fd = (flags & FLAG.fd) !== 0;
  out[at] =
    ((id >>> 24) & 0x1f) |
    (flags & FLAG.extended ? 0x80 : 0) |
    (flags & FLAG.remote ? 0x40 : 0) |
    (flags & FLAG.error ? 0x20 : 0);
  out[at + 1] = id >>> 16;
  out[at + 2] = id >>> 8;
  out[at + 3] = id;
  out[at + 4] = length;
  out[at + 5] = fd
    ? 0x04 | (flags & FLAG.bitRateSwitch ? 0x01 : 0) | (flags & FLAG.errorState ? 0x02 : 0)
    : 0;
  out[at + 6] = 0;
  out[at + 7] = 0;
  const offset = capture.offset[i] as number;
  const stored = storedLength(capture, i);
  for (let k = 0; k < stored; k++) out[at + 8 + k] = capture.payload[offset + k] as number;
  out.fill(0, at + 8 + stored, at + size);
  return size;
}

/** One sentence on a link type that is not ours, with what to do instead. */
export function wrongLinkType(linkType: number, where: string): string {
  const known: Record<number, string> = {
    1: ' (Ethernet)',
    101: ' (raw IP)',
    113: ' (Linux cooked capture)',
    276: ' (Linux cooked capture)',
    190: ' (CAN 2.0B)',
    210: ' (FlexRay)',
    220: ' (USB)',
    249: ' (USB)',
  };
  return `The link type ${where} is ${linkType}${known[linkType] ?? ''}; right would be ${LINKTYPE_CAN_SOCKETCAN} (SocketCAN), as tcpdump writes from a CAN interface itself.`;
}

/** "the 12 frames before it are kept" */
export function keptWords(count: number): string {
  return count === 1 ? 'the one frame before it is kept' : `the ${count} frames before it are kept`;
}

/** Counts of records that gave no frame, and time that runs backwards; makes the notes of pcap and pcapng. */
export class RecordLog {
  readonly #skipped = new Map<number, { count: number; offset: number }>();
  backwards = 0;
  firstBackwards = 0;

  skip(code: number, offset: number): void {
    const seen = this.#skipped.get(code);
    if (seen) seen.count++;
    else this.#skipped.set(code, { count: 1, offset });
  }

  wentBack(frame: number): void {
    if (this.backwards++ === 0) this.firstBackwards = frame;
  }

  get firstSkipped(): string {
    const [first] = this.#skipped;
    return first ? `; the record at byte ${first[1].offset} holds ${RECORD_WORDS[first[0]]}` : '';
  }

  notes(): string[] {
    const notes = [...this.#skipped].map(([code, { count, offset }]) =>
      count === 1
        ? `1 record was skipped: the one at byte ${offset} holds ${RECORD_WORDS[code]}.`
        : `${count} records were skipped, the first at byte ${offset}: it holds ${RECORD_WORDS[code]}.`,
    );
    if (this.backwards > 0) {
      const times = this.backwards === 1 ? 'once' : `${this.backwards} times`;
      notes.push(
        `Time goes backwards ${times}, first at frame ${this.firstBackwards}; frames stay in recorded order.`,
      );
    }
    return notes;
  }
}
