/**
 * Cyclic redundancy checks of any polynomial. Parameters as catalogues of such checks give them: polynomial and start
 * value in normal form (not bit-reversed) also when `reflected`; `xorout` applies to the result as it is sent.
 */

export interface CrcParameters {
  /** Bits of the register, 1–32. */
  width: number;
  /** Generator polynomial without its top bit, as in 0x1D for x⁸+x⁴+x³+x²+1. */
  poly: number;
  init: number;
  xorout: number;
  /** Bytes enter, and the result leaves, least significant bit first. */
  reflected: boolean;
}

/** The same for 64 bits. */
export interface Crc64Parameters {
  poly: bigint;
  init: bigint;
  xorout: bigint;
  reflected: boolean;
}

/** CRC of `bytes[from … to)` as an unsigned number. */
export function crc(p: CrcParameters, bytes: ArrayLike<number>, from = 0, to = bytes.length): number {
  return crcFinish(p, crcUpdate(p, crcStart(p), bytes, from, to));
}

/** Register before the first byte; for `crcUpdate` and `crcFinish` only, its form depends on the parameters. */
export function crcStart(p: CrcParameters): number {
  const init = (p.init & maskOf(p.width)) >>> 0;
  if (p.reflected) return reversed(init, p.width);
  return p.width < 8 ? init << (8 - p.width) : init;
}

/** Register after `bytes[from … to)` as well. */
export function crcUpdate(
  p: CrcParameters,
  register: number,
  bytes: ArrayLike<number>,
  from: number,
  to: number,
): number {
  const table = crcTable(p);
  let r = register;
  if (p.width <= 8) {
    for (let i = from; i < to; i++) r = table[r ^ (bytes[i] as number)] as number;
    return r;
  }
  if (p.reflected) {
    for (let i = from; i < to; i++) {
      r = ((r >>> 8) ^ (table[(r ^ (bytes[i] as number)) & 0xff] as number)) >>> 0;
    }
    return r;
  }
  const shift = p.width - 8;
  const mask = maskOf(p.width);
  for (let i = from; i < to; i++) {
    r = (((r << 8) ^ (table[(r >>> shift) ^ (bytes[i] as number)] as number)) & mask) >>> 0;
  }
  return r;
}

/** The check value that a register stands for. */
export function crcFinish(p: CrcParameters, register: number): number {
  const value = p.width < 8 && !p.reflected ? register >>> (8 - p.width) : register;
  return ((value ^ p.xorout) & maskOf(p.width)) >>> 0;
}

/**
 * The 256 register changes by which one byte acts. For widths up to 8 the new register is `table[register ^ byte]`.
 * Shared between equal polynomials; do not write to it.
 * @throws RangeError for a width outside 1–32.
 */
export function crcTable(p: Pick<CrcParameters, 'width' | 'poly' | 'reflected'>): Uint8Array | Uint32Array {
  if (!(p.width >= 1 && p.width <= 32)) {
    throw new RangeError(`a CRC of width ${p.width} is not possible here; 1 to 32 bits are`);
  }
  const key = ((p.poly >>> 0) * 32 + (p.width - 1)) * 2 + (p.reflected ? 1 : 0);
  if (key === latestKey) return latestTable;
  let table = tables.get(key);
  if (!table) {
    table = makeTable(p.width, p.poly, p.reflected);
    tables.set(key, table);
  }
  latestKey = key;
  latestTable = table;
  return table;
}

/** CRC of single bits, each 0 or 1, as the CAN bus itself forms it (ISO 11898-1); never reflected. */
export function crcOfBits(
  p: Pick<CrcParameters, 'width' | 'poly' | 'init'>,
  bits: ArrayLike<number>,
  from = 0,
  to = bits.length,
): number {
  const mask = maskOf(p.width);
  let r = p.init;
  for (let i = from; i < to; i++) {
    const out = ((r >>> (p.width - 1)) & 1) ^ (bits[i] as number);
    r = ((r << 1) & mask) ^ (out ? p.poly : 0);
  }
  return (r & mask) >>> 0;
}

/** 64-bit CRC of `bytes[from … to)`. */
export function crc64(p: Crc64Parameters, bytes: ArrayLike<number>, from = 0, to = bytes.length): bigint {
  const poly = p.reflected ? reversed64(p.poly) : p.poly;
  let r = p.reflected ? reversed64(p.init) : p.init;
  for (let i = from; i < to; i++) {
    const byte = BigInt(bytes[i] as number);
    r ^= p.reflected ? byte : byte << 56n;
    for (let k = 0; k < 8; k++) {
      if (p.reflected) r = r & 1n ? (r >> 1n) ^ poly : r >> 1n;
      else r = BigInt.asUintN(64, r & TOP64 ? (r << 1n) ^ poly : r << 1n);
    }
  }
  return r ^ p.xorout;
}

const TOP64 = 1n << 63n;
const tables = new Map<number, Uint8Array | Uint32Array>();
let latestKey = -1;
let latestTable: Uint8Array | Uint32Array = new Uint8Array(256);

function makeTable(width: number, poly: number, reflected: boolean): Uint8Array | Uint32Array {
  const table = width <= 8 ? new Uint8Array(256) : new Uint32Array(256);
  // Narrow registers stand at the top of a byte, so that a byte can be folded in at once.
  const bits = Math.max(width, 8);
  const mask = maskOf(bits);
  const aligned = reflected ? reversed(poly, width) : poly << (bits - width);
  for (let byte = 0; byte < 256; byte++) {
    let r = reflected ? byte : byte << (bits - 8);
    for (let k = 0; k < 8; k++) {
      if (reflected) r = r & 1 ? (r >>> 1) ^ aligned : r >>> 1;
      else r = (r >>> (bits - 1)) & 1 ? (r << 1) ^ aligned : r << 1;
    }
    table[byte] = (r & mask) >>> 0;
  }
  return table;
}

function maskOf(width: number): number {
  return width >= 32 ? 0xffff_ffff : (1 << width) - 1;
}

function reversed(value: number, width: number): number {
  let out = 0;
  for (let i = 0; i < width; i++) out = (out << 1) | ((value >>> i) & 1);
  return out >>> 0;
}

function reversed64(value: bigint): bigint {
  let out = 0n;
  for (let i = 0n; i < 64n; i++) out = (out << 1n) | ((value >> i) & 1n);
  return out;
}
