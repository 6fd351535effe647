/** Records of a pcap stream as pcapng blocks, stamps and lengths as they came. */
import { type ByteOrder, u32 } from '../bytes.ts';
import { BLOCK, BYTE_ORDER_MAGIC, OPTION } from '../pcapngWrite.ts';
import { LINKTYPE_CAN_SOCKETCAN } from '../socketcan.ts';

export const RECORD_HEADER = 16;

/** A section with one interface: bus `bus`, stamps in `parts` of a second. */
export function pcapSection(bus: number, parts: 1e6 | 1e9): Uint8Array {
  const description = new TextEncoder().encode(`bus ${bus}`);
  const padded = (description.length + 3) & ~3;
  const face = 16 + 4 + padded + 8 + 4 + 4;
  const out = new Uint8Array(28 + face);
  const view = new DataView(out.buffer);
  view.setUint32(0, BLOCK.section, true);
  view.setUint32(4, 28, true);
  view.setUint32(8, BYTE_ORDER_MAGIC, true);
  view.setUint16(12, 1, true);
  out.fill(0xff, 16, 24);
  view.setUint32(24, 28, true);
  view.setUint32(28, BLOCK.interface, true);
  view.setUint32(32, face, true);
  view.setUint16(36, LINKTYPE_CAN_SOCKETCAN, true);
  let at = 44;
  view.setUint16(at, OPTION.description, true);
  view.setUint16(at + 2, description.length, true);
  out.set(description, at + 4);
  at += 4 + padded;
  view.setUint16(at, OPTION.resolution, true);
  view.setUint16(at + 2, 1, true);
  out[at + 4] = parts === 1e9 ? 9 : 6;
  view.setUint32(out.length - 4, face, true);
  return out;
}

/** The record of `captured` bytes at `bytes[at]` as an enhanced packet block of interface 0. */
export function pcapPacket(
  bytes: Uint8Array,
  at: number,
  captured: number,
  order: ByteOrder,
  parts: 1e6 | 1e9,
): Uint8Array {
  const padded = (captured + 3) & ~3;
  const total = 28 + padded + 4;
  const out = new Uint8Array(total);
  const view = new DataView(out.buffer);
  const seconds = u32(bytes, at, order);
  const fraction = u32(bytes, at + 4, order);
  view.setUint32(0, BLOCK.packet, true);
  view.setUint32(4, total, true);
  // seconds × parts + fraction as two words; each part of the sum stays below 2^53.
  const high = Math.floor(seconds / 65536) * parts;
  const sum = (high % 65536) * 65536 + (seconds % 65536) * parts + fraction;
  view.setUint32(12, Math.floor(high / 65536) + Math.floor(sum / 0x1_0000_0000), true);
  view.setUint32(16, sum % 0x1_0000_0000, true);
  view.setUint32(20, captured, true);
  view.setUint32(24, u32(bytes, at + 12, order), true);
  out.set(bytes.subarray(at + RECORD_HEADER, at + RECORD_HEADER + captured), 28);
  view.setUint32(total - 4, total, true);
  return out;
}
