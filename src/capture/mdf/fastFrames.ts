/**
 * Runs of plain records, without a call per field: little-endian, every flag within one byte, payload in the record, time
 * as 64-bit floating point. What a layout or a record has beyond that goes the general way of frames.ts.
 */
import { FLAG } from '../../can/frame.ts';
import { alignedWords } from '../bytes.ts';
import type { CaptureBuilder } from '../store.ts';
import type { FrameLayout } from './busLogging.ts';
import type { Field } from './fields.ts';

/** A field within one byte: (byte at `at` >>> shift) & mask; an absent one has the mask 0. */
interface Small {
  at: number;
  shift: number;
  mask: number;
}

export interface FastLayout {
  time: number;
  multiply: number;
  divide: number;
  offset: number;
  id: number;
  idShift: number;
  idMask: number;
  ide: Small;
  bus: Small;
  onlyBus: number;
  length: Small;
  dir: Small;
  edl: Small;
  brs: Small;
  esi: Small;
  payload: number;
  room: number;
}

/** The layout as plain numbers; null where its records need the general way. */
export function fastLayoutOf(layout: FrameLayout): FastLayout | null {
  const { kind, time, id, ide, dataLength, payload, linear } = layout;
  if (kind !== 'data' || payload.kind !== 'inRecord' || payload.room < 8) return null;
  if (layout.order !== null || layout.invalid.length > 0) return null;
  if (time === null || time.kind !== 'float' || time.bits !== 64 || time.order !== 'little') return null;
  if (id === null || id.order !== 'little' || id.kind !== 'unsigned' || id.bit + id.bits > 32) return null;
  if (ide === null || dataLength === null || id.byte + 4 > layout.size) return null;
  const fields = [ide, dataLength, layout.bus, layout.dir, layout.edl, layout.brs, layout.esi].map(small);
  if (fields.includes(null)) return null;
  const [ideAt, length, bus, dir, edl, brs, esi] = fields as Small[] as [
    Small,
    Small,
    Small,
    Small,
    Small,
    Small,
    Small,
  ];
  return {
    time: time.byte,
    ...linear,
    id: id.byte,
    idShift: id.bit,
    idMask: (2 ** id.bits - 1) & 0x1fff_ffff,
    ide: ideAt,
    bus,
    onlyBus: layout.bus ? 0 : layout.onlyBus,
    length,
    dir,
    edl,
    brs,
    esi,
    payload: payload.byte,
    room: payload.room,
  };
}

/** Takes up to `count` records; returns how many were plain frames and were taken. */
export function takeFast(
  into: CaptureBuilder,
  layout: FastLayout,
  bytes: Uint8Array,
  start: number,
  stride: number,
  count: number,
): number {
  const { multiply, divide, offset: zero, idShift, idMask, onlyBus, room } = layout;
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  // Eight bytes are always copied, so that much room is left behind the last.
  const columns = into.reserve(count, count * room + 8);
  const { time, id, bus, flags, length, offset, payload } = columns;
  const words = alignedWords(payload);
  const { at: ideAt, shift: ideShift, mask: ideMask } = layout.ide;
  const { at: busAt, shift: busShift, mask: busMask } = layout.bus;
  const { at: lengthAt, shift: lengthShift, mask: lengthMask } = layout.length;
  const { at: dirAt, shift: dirShift, mask: dirMask } = layout.dir;
  const { at: edlAt, shift: edlShift, mask: edlMask } = layout.edl;
  const { at: brsAt, shift: brsShift, mask: brsMask } = layout.brs;
  const { at: esiAt, shift: esiShift, mask: esiMask } = layout.esi;
  const from = into.count;
  let used = into.used;
  let done = 0;
  for (let p = start; done < count; done++, p += stride) {
    const t = (view.getFloat64(p + layout.time, true) * multiply) / divide + zero;
    const size = ((bytes[p + lengthAt] as number) >>> lengthShift) & lengthMask;
    const edl = ((bytes[p + edlAt] as number) >>> edlShift) & edlMask;
    // Infinite or no number; a length that needs a closer look.
    if (t - t !== 0 || size > room || !(size <= 8 || (edl !== 0 && isLong(size)))) break;
    const ide = ((bytes[p + ideAt] as number) >>> ideShift) & ideMask;
    const word = (view.getUint32(p + layout.id, true) >>> idShift) & idMask;
    const n = from + done;
    time[n] = t;
    id[n] = ide ? word : word & 0x7ff;
    bus[n] = onlyBus + (((bytes[p + busAt] as number) >>> busShift) & busMask);
    flags[n] =
      (ide ? FLAG.extended : 0) |
      (edl ? FLAG.fd : 0) |
      (((bytes[p + brsAt] as number) >>> brsShift) & brsMask ? FLAG.bitRateSwitch : 0) |
      (((bytes[p + esiAt] as number) >>> esiShift) & esiMask ? FLAG.errorState : 0) |
      ((((bytes[p + dirAt] as number) >>> dirShift) & dirMask) === 1 ? FLAG.sent : 0);
    length[n] = size;
    offset[n] = used;
    const data = p + layout.payload;
    if (size > 8) for (let k = 0; k < size; k++) payload[used + k] = bytes[data + k] as number;
    else if (words !== null && (used & 3) === 0) {
      words[used >> 2] = view.getUint32(data, true);
      words[(used >> 2) + 1] = view.getUint32(data + 4, true);
    } else for (let k = 0; k < 8; k++) payload[used + k] = bytes[data + k] as number;
    used += size;
  }
  into.commit(done, used - into.used);
  return done;
}

/** FD payload lengths above 8. */
function isLong(size: number): boolean {
  return (
    size === 12 || size === 16 || size === 20 || size === 24 || size === 32 || size === 48 || size === 64
  );
}

function small(field: Field | null): Small | null {
  if (field === null) return { at: 0, shift: 0, mask: 0 };
  if (field.kind !== 'unsigned' || field.bit + field.bits > 8) return null;
  return { at: field.byte, shift: field.bit, mask: 2 ** field.bits - 1 };
}
