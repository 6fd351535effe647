/**
 * How many bits a frame takes on the wire, with the three intermission bits that keep the next frame off the bus.
 *
 * Field lengths and the bound on stuffing are those of the Linux kernel header `include/linux/can/length.h` (6.12), after
 * ISO 11898-1; the worst case of a classical frame is that of Davis, Burns, Bril and Lukkien 2007, equation 1.
 */
import { crcOfBits, crcTable } from './crc.ts';
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
  const remote = flags & FLAG.remote ? 1 : 0;
  const bytes = remote ? 0 : length;
  let high: number;
  let low: number;
  let state: number;
  let crc = 0;
  if (flags & FLAG.extended) {
    // 39 bits: start 0, 11 of the identifier, 1, 1, the other 18, remote, 0, 0, length in 4.
    high = id >>> 23;
    low = ((((id >>> 18) & 0x1f) << 27) | (3 << 25) | ((id & 0x3ffff) << 7) | (remote << 6) | length) >>> 0;
    state = firstBits(high, 7);
    crc = crc15(crc15(crc15(crc, high), low >>> 24), (low >>> 16) & 0xff);
    state = stuffByte(stuffByte(state, low >>> 24), (low >>> 16) & 0xff);
  } else {
    // 19 bits: start 0, identifier, remote, 0, 0, length in 4.
    low = (id << 7) | (remote << 6) | length;
    high = low >>> 16;
    state = firstBits(high, 3);
    crc = crc15(crc, high);
  }
  crc = crc15(crc15(crc, (low >>> 8) & 0xff), low & 0xff);
  state = stuffByte(stuffByte(state, (low >>> 8) & 0xff), low & 0xff);
  for (let i = 0; i < bytes; i++) {
    const byte = payload[from + i] as number;
    crc = crc15(crc, byte);
    state = stuffByte(state, byte);
  }
  state = stuffByte(state, crc >>> 7);
  for (let k = 6; k >= 0; k--) state = stuffBit(state, (crc >>> k) & 1);
  return (flags & FLAG.extended ? 39 : 19) + 8 * bytes + 15 + (state >> COUNT_AT) + 1 + AFTER_CRC;
}

/** Bits of a CAN FD frame at the nominal and at the data bit rate; all nominal without a switch of the bit rate. */
export interface FdFrameBits {
  nominal: number;
  data: number;
}

/**
 * Exact length of a CAN FD frame by phase. The switch comes after the bit rate switch bit and back with the delimiter of
 * the CRC (split from memory; total and stuffing as in `frameBits`). No stuff bit is put before the first fixed one.
 */
export function fdFrameBits(
  id: number,
  flags: number,
  payload: Uint8Array,
  from: number,
  length: number,
): FdFrameBits {
  const extended = (flags & FLAG.extended) !== 0;
  const fast = flags & FLAG.bitRateSwitch ? 1 : 0;
  const code = length <= 8 ? length : 9 + LONG_LENGTHS.indexOf(length);
  let state = START;
  const put = (value: number, count: number) => {
    for (let k = count - 1; k >= 0; k--) state = stuffBit(state, (value >>> k) & 1);
  };
  put(0, 1);
  if (extended) {
    put(id >>> 18, 11);
    put(0b11, 2);
    put(id, 18);
    put(0b010, 3);
  } else {
    put(id, 11);
    put(0b0010, 4);
  }
  put(fast, 1);
  const before = state >> COUNT_AT;
  put(flags & FLAG.errorState ? 1 : 0, 1);
  put(code, 4);
  for (let i = 0; i < length; i++) state = stuffByte(state, payload[from + i] as number);
  const stuffed = (state >> COUNT_AT) - (state & ENDED ? 1 : 0);
  const total = frameBits(flags, length).least + stuffed;
  if (!fast) return { nominal: total, data: 0 };
  // Start to bit rate switch, then delimiter of the CRC, acknowledge, end of frame, intermission.
  const nominal = (extended ? 36 : 17) + before + 1 + AFTER_CRC;
  return { nominal, data: total - nominal };
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

/** Payload lengths of CAN FD that length codes 9 … 15 stand for. */
const LONG_LENGTHS = [12, 16, 20, 24, 32, 48, 64];

/**
 * State of the stuffing: the last bit on the wire and how many equal ones end there (1–4; the fifth brings a stuff bit), a
 * flag for "a stuff bit was the last thing put in", and from bit `COUNT_AT` on the number of stuff bits.
 */
const START = 8;
const ENDED = 16;
const COUNT_AT = 5;
/** After each byte, by state 0–8 and byte; the count is that of the byte alone. */
const STUFF_BYTE = new Uint16Array(9 * 256);
for (let s = 0; s <= START; s++) {
  for (let byte = 0; byte < 256; byte++) {
    let state = s;
    for (let k = 7; k >= 0; k--) state = stuffBit(state, (byte >> k) & 1);
    STUFF_BYTE[(s << 8) | byte] = state;
  }
}

function stuffBit(state: number, bit: number): number {
  const now = state & 15;
  const count = state >> COUNT_AT;
  if (now === START || now >> 2 !== bit) return (count << COUNT_AT) | (bit << 2);
  const run = (now & 3) + 2;
  if (run < 5) return (count << COUNT_AT) | (bit << 2) | (run - 1);
  return ((count + 1) << COUNT_AT) | ENDED | ((1 - bit) << 2);
}

function stuffByte(state: number, byte: number): number {
  const step = STUFF_BYTE[((state & 15) << 8) | byte] as number;
  return (state & ~31) + step;
}

function firstBits(value: number, count: number): number {
  let state = START;
  for (let k = count - 1; k >= 0; k--) state = stuffBit(state, (value >>> k) & 1);
  return state;
}

const CRC15_TABLE = crcTable({ width: 15, poly: CRC15.poly, reflected: false });

function crc15(register: number, byte: number): number {
  return ((register << 8) ^ (CRC15_TABLE[(register >>> 7) ^ byte] as number)) & 0x7fff;
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
