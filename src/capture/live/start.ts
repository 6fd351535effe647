/** Where a pcap or pcapng stream begins: told by its whole header, so that a payload is not taken for one. */
import { type ByteOrder, u16, u32 } from '../bytes.ts';
import { BLOCK, BYTE_ORDER_MAGIC } from '../pcapngWrite.ts';
import { LINKTYPE_CAN_SOCKETCAN } from '../socketcan.ts';

export type StreamKind =
  | { kind: 'pcap'; order: ByteOrder; parts: 1e6 | 1e9 }
  | { kind: 'pcapng'; order: ByteOrder };

/** Bytes of a pcap header: magic number, version, zone, accuracy, snapshot length, link type. */
export const PCAP_HEADER = 24;

/**
 * The stream that begins at `bytes[at]`; 'more' where the bytes up to `to` could begin one but do not tell yet, null
 * where none begins there. A pcap header counts only with version 2 and the SocketCAN link type.
 */
export function startAt(bytes: Uint8Array, at: number, to: number): StreamKind | 'more' | null {
  const known = to - at;
  const section = matches(bytes, at, known, SECTION);
  if (section) {
    if (known < 12) return 'more';
    if (u32(bytes, at + 8, 'little') === BYTE_ORDER_MAGIC) return { kind: 'pcapng', order: 'little' };
    return u32(bytes, at + 8, 'big') === BYTE_ORDER_MAGIC ? { kind: 'pcapng', order: 'big' } : null;
  }
  for (const { head, order, parts } of PCAP) {
    if (!matches(bytes, at, known, head)) continue;
    if (known < PCAP_HEADER) return 'more';
    return linkTypeAt(bytes, at, order) === LINKTYPE_CAN_SOCKETCAN ? { kind: 'pcap', order, parts } : null;
  }
  return null;
}

/** Link type of the pcap header at `bytes[at]`, whatever it is; null where none stands there. Needs 24 bytes. */
export function pcapLinkType(bytes: Uint8Array, at: number, to: number): number | null {
  const found = PCAP.find(({ head }) => to - at >= PCAP_HEADER && matches(bytes, at, to - at, head));
  return found ? linkTypeAt(bytes, at, found.order) : null;
}

/** The first place in `bytes[from … until)` where a stream begins or could begin; -1 where none. */
export function findStart(
  bytes: Uint8Array,
  from: number,
  until: number,
  to: number,
): { at: number; start: StreamKind | 'more' } | null {
  for (let at = from; at < until; at++) {
    const first = bytes[at];
    if (first !== 0x0a && first !== 0xd4 && first !== 0x4d && first !== 0xa1) continue;
    const start = startAt(bytes, at, to);
    if (start !== null) return { at, start };
  }
  return null;
}

/** 0A 0D 0D 0A, the same in either byte order. */
const SECTION = [BLOCK.section & 0xff, 0x0d, 0x0d, 0x0a];
/** Magic number and major version 2, as they stand in either byte order. */
const PCAP: readonly { head: readonly number[]; order: ByteOrder; parts: 1e6 | 1e9 }[] = [
  { head: [0xd4, 0xc3, 0xb2, 0xa1, 2, 0], order: 'little', parts: 1e6 },
  { head: [0x4d, 0x3c, 0xb2, 0xa1, 2, 0], order: 'little', parts: 1e9 },
  { head: [0xa1, 0xb2, 0xc3, 0xd4, 0, 2], order: 'big', parts: 1e6 },
  { head: [0xa1, 0xb2, 0x3c, 0x4d, 0, 2], order: 'big', parts: 1e9 },
];

/** Whether as much of `head` as is there stands at `bytes[at]`. */
function matches(bytes: Uint8Array, at: number, known: number, head: readonly number[]): boolean {
  if (known <= 0) return false;
  for (let k = 0; k < head.length && k < known; k++) if (bytes[at + k] !== head[k]) return false;
  return true;
}

function linkTypeAt(bytes: Uint8Array, at: number, order: ByteOrder): number {
  return u16(bytes, at + (order === 'little' ? 20 : 22), order);
}
