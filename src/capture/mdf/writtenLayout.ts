/**
 * Where our own files have the channels of a frame, and a frame's record. Each record has the time (f64, seconds) at 0, then
 * BusChannel, the identifier word and the flags at the places of the usual bus-logging layout, then what the kind adds:
 *
 *   byte 8 BusChannel, 9–12 ID (29 bits) and IDE (bit 7 of 12), 13 DLC (bits 0–3), Dir 4, EDL 6, BRS 7, 14 DataLength,
 *   15 ESI (bit 0); data frames: DataBytes at 16; error frames: ErrorClass u32 at 16, ErrorType at 20, DataBytes at 24.
 */
import { FLAG } from '../../can/frame.ts';
import { storedLength } from '../select.ts';
import type { Capture } from '../store.ts';
import type { FrameKind } from './busLogging.ts';
import { errorTypeOf } from './errorKinds.ts';

export interface WrittenChannel {
  name: string;
  byte: number;
  bit: number;
  bits: number;
}

/** One kind of record: classical and FD data frames are two, so that a classical frame does not take the room of 64 bytes. */
export interface WrittenKind {
  kind: FrameKind;
  words: string;
  /** Room for payload in bytes; 0 for none. */
  room: number;
  /** Byte of DataBytes. */
  dataAt: number;
  /** Byte of RecordedOrder behind all else; null where the times tell the order. */
  orderAt: number | null;
  size: number;
  frames: number;
}

export const PARENT: Record<FrameKind, string> = {
  data: 'CAN_DataFrame',
  remote: 'CAN_RemoteFrame',
  error: 'CAN_ErrorFrame',
};

/** Index of its kind for each set of flags: 0 classical data, 1 FD data, 2 remote, 3 error. */
export function kindIndex(flags: number): number {
  if (flags & FLAG.error) return 3;
  if (flags & FLAG.remote) return 2;
  return flags & FLAG.fd ? 1 : 0;
}

/** The four kinds in that order; `frames[k]` counts the frames of each, `errorRoom` is the longest payload of an error. */
export function writtenKinds(
  frames: readonly number[],
  errorRoom: number,
  order: 'byTime' | 'recorded',
): WrittenKind[] {
  const of = (kind: FrameKind, words: string, room: number, k: number): WrittenKind => {
    const dataAt = kind === 'error' ? 24 : 16;
    const size = dataAt + room;
    return {
      kind,
      words,
      room,
      dataAt,
      orderAt: order === 'recorded' ? size : null,
      size: size + (order === 'recorded' ? 4 : 0),
      frames: frames[k] as number,
    };
  };
  return [
    of('data', 'CAN data frames', 8, 0),
    of('data', 'CAN FD data frames', 64, 1),
    of('remote', 'CAN remote frames', 0, 2),
    of('error', 'CAN error messages', errorRoom, 3),
  ];
}

/** The parts of the frame, without the time, DataBytes and RecordedOrder. */
export function writtenParts({ kind }: WrittenKind): WrittenChannel[] {
  const part = (name: string, byte: number, bit: number, bits: number) => ({ name, byte, bit, bits });
  return [
    part('BusChannel', 8, 0, 8),
    part('ID', 9, 0, 29),
    part('IDE', 12, 7, 1),
    part('DLC', 13, 0, 4),
    part('Dir', 13, 4, 1),
    part('EDL', 13, 6, 1),
    part('BRS', 13, 7, 1),
    part('DataLength', 14, 0, 8),
    part('ESI', 15, 0, 1),
    ...(kind === 'error' ? [part('ErrorClass', 16, 0, 32), part('ErrorType', 20, 0, 3)] : []),
  ];
}

/** Writes the record of frame `i` at `out[at …)`, which is zero; `shiftS` is added to its time. */
export function writeFrame(
  capture: Capture,
  i: number,
  kind: WrittenKind,
  shiftS: number,
  out: Uint8Array,
  view: DataView,
  at: number,
): void {
  const id = capture.id[i] as number;
  const flags = capture.flags[i] as number;
  const length = capture.length[i] as number;
  view.setFloat64(
    at,
    shiftS === 0 ? (capture.time[i] as number) : (capture.time[i] as number) + shiftS,
    true,
  );
  out[at + 8] = capture.bus[i] as number;
  view.setUint32(
    at + 9,
    (kind.kind === 'error' ? 0 : id & 0x1fff_ffff) | (flags & FLAG.extended ? 1 << 31 : 0),
    true,
  );
  out[at + 13] =
    dlcOf(length) |
    (flags & FLAG.sent ? 0x10 : 0) |
    (flags & FLAG.fd ? 0x40 : 0) |
    (flags & FLAG.bitRateSwitch ? 0x80 : 0);
  out[at + 14] = length;
  out[at + 15] = flags & FLAG.errorState ? 1 : 0;
  const stored = storedLength(capture, i);
  const from = capture.offset[i] as number;
  const data = at + kind.dataAt;
  for (let k = 0; k < stored; k++) out[data + k] = capture.payload[from + k] as number;
  if (kind.kind === 'error') {
    view.setUint32(at + 16, (id & 0x1fff_ffff) | (flags & FLAG.remote ? 1 << 30 : 0), true);
    out[at + 20] = errorTypeOf(id, out.subarray(data, data + stored));
  }
  if (kind.orderAt !== null) view.setUint32(at + kind.orderAt, i, true);
}

/** Data length code of a payload length (ISO 11898-1). */
function dlcOf(length: number): number {
  return length <= 8 ? length : 9 + [12, 16, 20, 24, 32, 48, 64].indexOf(length);
}
