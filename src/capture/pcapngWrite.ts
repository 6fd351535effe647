/** The writing half of pcapng: a section, one interface per bus, and enhanced packet blocks in nanoseconds. */
import { FLAG } from '../can/frame.ts';
import type { WriteOptions } from './formats/format.ts';
import { LINKTYPE_CAN_SOCKETCAN, recordSize, writeRecord } from './socketcan.ts';
import type { Capture } from './store.ts';
import { checkFrames } from './writable.ts';

/** Block types of the pcapng format. */
export const BLOCK = {
  section: 0x0a0d_0d0a,
  interface: 1,
  oldPacket: 2,
  simplePacket: 3,
  packet: 6,
} as const;
export const BYTE_ORDER_MAGIC = 0x1a2b_3c4d;
/** Option codes of interface blocks. */
export const OPTION = { end: 0, name: 2, description: 3, resolution: 9, offset: 14 } as const;

const PIECE = 1 << 18;
/** An enhanced packet block with the longest record and the flags option. */
const LONGEST_PACKET = 28 + 72 + 12 + 4;

/**
 * The capture as pcapng, little-endian. Each bus is an interface with its name (or can and its number), its number
 * in the description ("bus 3") and nanosecond stamps; times before 1970 are held by if_tsoffset.
 * @throws CaptureError where a frame is none (`checkFrames`)
 */
export function* writePcapng(
  capture: Capture,
  { onFrames }: WriteOptions = {},
): Generator<Uint8Array, void, undefined> {
  checkFrames(capture);
  const buses = busesOf(capture);
  const offset = startBefore1970(capture);
  yield sectionHeader();
  for (const bus of buses) yield interfaceBlock(bus, capture.busNames?.get(bus) ?? `can${bus}`, offset);
  const faceOf = new Uint8Array(256);
  buses.forEach((bus, i) => {
    faceOf[bus] = i;
  });
  const originSeconds = Number(capture.originNs / 1_000_000_000n) - offset;
  const restNs = Number(capture.originNs % 1_000_000_000n);
  let out = new Uint8Array(PIECE);
  let view = new DataView(out.buffer);
  let at = 0;
  for (let i = 0; i < capture.count; i++) {
    if (at + LONGEST_PACKET > PIECE) {
      onFrames?.(i);
      yield out.subarray(0, at);
      out = new Uint8Array(PIECE);
      view = new DataView(out.buffer);
      at = 0;
    }
    const size = recordSize(capture, i);
    const sent = ((capture.flags[i] as number) & FLAG.sent) !== 0;
    const total = 28 + size + (sent ? 12 : 0) + 4;
    const rest = restNs + Math.round((capture.time[i] as number) * 1e9);
    const whole = Math.floor(rest / 1e9);
    view.setUint32(at, BLOCK.packet, true);
    view.setUint32(at + 4, total, true);
    view.setUint32(at + 8, faceOf[capture.bus[i] as number] as number, true);
    setNanoseconds(view, at + 12, originSeconds + whole, rest - whole * 1e9);
    view.setUint32(at + 20, size, true);
    view.setUint32(at + 24, size, true);
    let end = at + 28 + writeRecord(capture, i, out, at + 28);
    if (sent) {
      view.setUint16(end, 2, true);
      view.setUint16(end + 2, 4, true);
      view.setUint32(end + 4, 2, true);
      view.setUint32(end + 8, 0, true);
      end += 12;
    }
    view.setUint32(end, total, true);
    at = end + 4;
  }
  if (at > 0) yield out.subarray(0, at);
}

function busesOf(capture: Capture): number[] {
  const seen = new Uint8Array(256);
  for (const bus of capture.bus) seen[bus] = 1;
  return [...seen.keys()].filter((bus) => seen[bus] === 1);
}

/** Whole seconds to add to all stamps so that none is negative: 0 or less. */
function startBefore1970(capture: Capture): number {
  const origin = Number(capture.originNs) / 1e9;
  let least = 0;
  for (const t of capture.time) least = Math.min(least, origin + t);
  return least < 0 ? Math.floor(least) - 1 : 0;
}

/** Seconds × 1e9 + nanoseconds as two words, high first, without leaving the exact range of doubles. */
function setNanoseconds(view: DataView, at: number, seconds: number, nanos: number): void {
  const low = (seconds % 65536) * 1e9 + nanos;
  const high = Math.floor(seconds / 65536) * 1e9;
  // seconds × 1e9 = high × 2^16 + low
  const sum = (high % 65536) * 65536 + low;
  view.setUint32(at, Math.floor(high / 65536) + Math.floor(sum / 0x1_0000_0000), true);
  view.setUint32(at + 4, sum % 0x1_0000_0000, true);
}

function sectionHeader(): Uint8Array {
  const out = new Uint8Array(28);
  const view = new DataView(out.buffer);
  view.setUint32(0, BLOCK.section, true);
  view.setUint32(4, 28, true);
  view.setUint32(8, BYTE_ORDER_MAGIC, true);
  view.setUint16(12, 1, true);
  view.setBigInt64(16, -1n, true);
  view.setUint32(24, 28, true);
  return out;
}

function interfaceBlock(bus: number, name: string, offset: number): Uint8Array {
  const offsetBytes = new Uint8Array(8);
  new DataView(offsetBytes.buffer).setBigInt64(0, BigInt(offset), true);
  const options = [
    option(OPTION.name, new TextEncoder().encode(name).subarray(0, 255)),
    option(OPTION.description, new TextEncoder().encode(`bus ${bus}`)),
    option(OPTION.resolution, Uint8Array.of(9)),
    ...(offset === 0 ? [] : [option(OPTION.offset, offsetBytes)]),
    option(OPTION.end, new Uint8Array(0)),
  ];
  const total = 16 + options.reduce((sum, o) => sum + o.length, 0) + 4;
  const out = new Uint8Array(total);
  const view = new DataView(out.buffer);
  view.setUint32(0, BLOCK.interface, true);
  view.setUint32(4, total, true);
  view.setUint16(8, LINKTYPE_CAN_SOCKETCAN, true);
  let at = 16;
  for (const o of options) {
    out.set(o, at);
    at += o.length;
  }
  view.setUint32(at, total, true);
  return out;
}

function option(code: number, value: Uint8Array): Uint8Array {
  const out = new Uint8Array(4 + ((value.length + 3) & ~3));
  const view = new DataView(out.buffer);
  view.setUint16(0, code, true);
  view.setUint16(2, value.length, true);
  out.set(value, 4);
  return out;
}
