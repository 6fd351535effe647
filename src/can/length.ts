/**
 * How many bits a frame takes on the wire, with the three intermission bits that keep the next frame off the bus.
 *
 * Field lengths and the bound on stuffing are those of the Linux kernel header `include/linux/can/length.h` (6.12), after
 * ISO 11898-1; the worst case of a classical frame is that of Davis, Burns, Bril and Lukkien 2007, equation 1.
 */
import { crcOfBits } from './crc.ts';
import { FLAG } from './frame.ts';

/** Shortest and longest length of a frame of one kind and payload length, in bits. */
export interface FrameBits {
  /** Without any stuff bit that depends on the content. */
  least: number;
  /** With as many as any identifier and payload can cause. */
  worst: number;
}

/** CRC-15 of classical frames (ISO 11898-1): x¹⁵+x¹⁴+x¹⁰+x⁸+x⁷+x⁴+x³+1. */
export const CRC15 = { width: 15, poly: 0x4599, init: 0 } as const;

/**
 * Bounds for any frame with these flags (extended, remote, fd) and payload length in bytes.
 * For an FD frame both phases together: bits at the nominal and at the data bit rate are counted alike.
 */
export function frameBits(flags: number, length: number): FrameBits {
  const extended = (flags & FLAG.extended) !== 0;
  const data = flags & FLAG.remote ? 0 : 8 * length;
  if (flags & FLAG.fd) {
    // Stuff count 4, CRC 17 or 21, delimiter 1, and one fixed stuff bit before every fourth bit of the first two.
    const crcField = length <= 16 ? 28 : 33;
    return bounds((extended ? 41 : 22) + data, crcField);
  }
  // The CRC itself is stuffed, its delimiter is not.
  return bounds((extended ? 39 : 19) + data + 15, 1);
}

/** Exact length in bits of a classical frame whose payload is `payload[from … from + length)`. */
export function classicalFrameBits(
  id: number,
  flags: number,
  payload: Uint8Array,
  from: number,
  length: number,
): number {
  const count = lay(scratch, id, flags, payload, from, length);
  return count + stuffBits(scratch, count) + 1 + AFTER_CRC;
}

/** CRC-15 that a classical frame carries on the wire. */
export function frameCrc15(
  id: number,
  flags: number,
  payload: Uint8Array,
  from: number,
  length: number,
): number {
  const count = lay(scratch, id, flags, payload, from, length);
  let value = 0;
  for (let i = count - 15; i < count; i++) value = (value << 1) | (scratch[i] as number);
  return value;
}

/** Bits of a classical frame from start of frame to the end of the CRC as they are on the wire, stuff bits included. */
export function stuffedBits(
  id: number,
  flags: number,
  payload: Uint8Array,
  from: number,
  length: number,
): Uint8Array {
  const bits = new Uint8Array(LONGEST);
  const count = lay(bits, id, flags, payload, from, length);
  const wire: number[] = [];
  let run = 0;
  let last = 2;
  for (let i = 0; i < count; i++) {
    const bit = bits[i] as number;
    run = bit === last ? run + 1 : 1;
    last = bit;
    wire.push(bit);
    if (run === 5) {
      last = 1 - bit;
      run = 1;
      wire.push(last);
    }
  }
  return Uint8Array.from(wire);
}

/** Acknowledge slot and delimiter 2, end of frame 7, intermission 3. */
const AFTER_CRC = 12;
/** Header 39, payload 64, CRC 15. */
const LONGEST = 118;
const scratch = new Uint8Array(LONGEST);

function bounds(stuffed: number, unstuffed: number): FrameBits {
  const least = stuffed + unstuffed + AFTER_CRC;
  return { least, worst: least + Math.floor((stuffed - 1) / 4) };
}

/** Lays the bits from start of frame to the end of the CRC, without stuff bits; returns how many. */
function lay(
  bits: Uint8Array,
  id: number,
  flags: number,
  payload: Uint8Array,
  from: number,
  length: number,
): number {
  const remote = flags & FLAG.remote ? 1 : 0;
  let n = 0;
  const put = (value: number, count: number) => {
    for (let k = count - 1; k >= 0; k--) bits[n++] = (value >>> k) & 1;
  };
  put(0, 1);
  if (flags & FLAG.extended) {
    put(id >>> 18, 11);
    put(0b11, 2);
    put(id, 18);
    put(remote, 1);
    put(0, 2);
  } else {
    put(id, 11);
    put(remote, 1);
    put(0, 2);
  }
  put(length, 4);
  if (!remote) for (let i = 0; i < length; i++) put(payload[from + i] as number, 8);
  put(crcOfBits(CRC15, bits, 0, n), 15);
  return n;
}

/** After five equal bits in a row, stuff bits included, one of the other value is put in (ISO 11898-1). */
function stuffBits(bits: Uint8Array, count: number): number {
  let stuffed = 0;
  let run = 0;
  let last = 2;
  for (let i = 0; i < count; i++) {
    const bit = bits[i] as number;
    run = bit === last ? run + 1 : 1;
    last = bit;
    if (run === 5) {
      stuffed++;
      last = 1 - bit;
      run = 1;
    }
  }
  return stuffed;
}
