/** Payload differences as polynomials over GF(2): covered bytes at the high powers, the check below them. */
import { type BitField, fieldBits } from '../can/bits.ts';
import type { Cover } from './covers.ts';

/** A place prepared for many codewords. */
export interface CodewordPlace {
  /** AUTOSAR numbers, least significant first. */
  bits: number[];
  /** Per payload byte the bits that are not the field's. */
  keep: Uint8Array;
}

export function codewordPlace(length: number, field: BitField): CodewordPlace {
  const bits = fieldBits(field);
  const keep = new Uint8Array(length).fill(0xff);
  for (const bit of bits) keep[bit >> 3] = (keep[bit >> 3] as number) & ~(1 << (bit & 7));
  return { bits, keep };
}

/** 32-bit words that a codeword takes. */
export function codewordWords(cover: Cover, width: number): number {
  return (8 * (cover.bytes.length + cover.suffix) + width + 31) >> 5;
}

/**
 * M·x^(8·suffix + width) + C, where the first covered byte stands at the highest powers and C is the field; bytes and
 * field are bit-reversed where a check is formed least significant bit first. A difference of two valid payloads gives a
 * multiple of the generator.
 */
export function codewordOf(
  row: Int32Array,
  place: CodewordPlace,
  cover: Cover,
  reflected: boolean,
  words: number,
): Int32Array {
  const codeword = new Int32Array(words);
  const { bits, keep } = place;
  const width = bits.length;
  const { bytes, suffix } = cover;
  for (let k = 0; k < bytes.length; k++) {
    const from = bytes[k] as number;
    const value = byteOf(row, from) & (keep[from] as number);
    if (value === 0) continue;
    const entering = reflected ? (REVERSED[value] as number) : value;
    const at = 8 * (bytes.length - 1 - k + suffix) + width;
    codeword[at >> 5] = (codeword[at >> 5] as number) | (entering << (at & 31));
    if ((at & 31) > 24)
      codeword[(at >> 5) + 1] = (codeword[(at >> 5) + 1] as number) | (entering >>> (32 - (at & 31)));
  }
  for (let i = 0; i < width; i++) {
    if (bitOf(row, bits[i] as number) === 0) continue;
    const power = reflected ? width - 1 - i : i;
    codeword[power >> 5] = (codeword[power >> 5] as number) | (1 << (power & 31));
  }
  return codeword;
}

export function byteOf(row: Int32Array, b: number): number {
  return ((row[b >> 2] as number) >>> (8 * (b & 3))) & 0xff;
}

export function bitOf(row: Int32Array, bit: number): number {
  return ((row[bit >> 5] as number) >>> (bit & 31)) & 1;
}

const REVERSED = Uint8Array.from({ length: 256 }, (_, value) => {
  let out = 0;
  for (let i = 0; i < 8; i++) out |= ((value >> i) & 1) << (7 - i);
  return out;
});
