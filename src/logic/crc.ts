/** Cyclic redundancy checks of width 8 and 16 by a table of 256 entries, as every reader of a `crc` node computes them. */

export interface CrcParameters {
  width: number;
  /** Generator polynomial without its top bit, highest power first, whether reflected or not. */
  poly: number;
  /** Register before the first byte, highest power first. */
  init: number;
  xorout: number;
  reflected: boolean;
}

/**
 * A table and the two constants that go with it. With `down` = the register shifts right (reflected):
 * crc = (crc >> 8) ^ entries[(crc ^ byte) & 255]; else crc = ((crc << 8) ^ entries[(crc >> (width − 8)) ^ byte]) mod 2^width.
 */
export interface CrcTable {
  entries: number[];
  /** Register before the first byte, in the bit order of the table. */
  start: number;
}

/** Table for the parameters; start value and entries bit-reversed where the register shifts right. */
export function crcTable(p: CrcParameters): CrcTable {
  const entries = Array.from({ length: 256 }, (_, byte) =>
    p.reflected ? downward(p, byte) : upward(p, byte),
  );
  return { entries, start: p.reflected ? reverseBits(p.init, p.width) : p.init };
}

/** CRC of the bytes in the order given, bit by bit: the definition against which the table is tested. */
export function crcOf(p: CrcParameters, bytes: ArrayLike<number>): number {
  const top = 2 ** (p.width - 1);
  let crc = p.init;
  for (let i = 0; i < bytes.length; i++) {
    const byte = bytes[i] as number;
    crc ^= (p.reflected ? reverseBits(byte, 8) : byte) << (p.width - 8);
    for (let bit = 0; bit < 8; bit++) crc = crc & top ? ((crc - top) << 1) ^ p.poly : crc << 1;
  }
  return (p.reflected ? reverseBits(crc, p.width) : crc) ^ p.xorout;
}

/** The low `width` bits of a value in reverse order. */
export function reverseBits(value: number, width: number): number {
  let reversed = 0;
  for (let i = 0; i < width; i++) reversed |= ((value >>> i) & 1) << (width - 1 - i);
  return reversed >>> 0;
}

function upward(p: CrcParameters, byte: number): number {
  const mask = 2 ** p.width - 1;
  let crc = byte << (p.width - 8);
  for (let bit = 0; bit < 8; bit++) crc = ((crc << 1) ^ (crc >>> (p.width - 1) ? p.poly : 0)) & mask;
  return crc;
}

function downward(p: CrcParameters, byte: number): number {
  const poly = reverseBits(p.poly, p.width);
  let crc = byte;
  for (let bit = 0; bit < 8; bit++) crc = (crc >>> 1) ^ (crc & 1 ? poly : 0);
  return crc;
}
