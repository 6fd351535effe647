/**
 * Bit fields of a payload, 1–64 bits, in both byte orders.
 *
 * Bits are numbered as in AUTOSAR: position = 8 × byte + bit, bit 0 the lowest of its byte, in both byte orders. A
 * little-endian field starts at its least significant bit and walks upward; a big-endian field starts at its most
 * significant bit, walks down in the byte and goes on at bit 7 of the next one (MOST-SIGNIFICANT-BYTE-FIRST).
 *
 * Nothing here looks at payload lengths: `bytesNeeded` tells how long a payload must be, and callers check it once.
 */

export interface BitField {
  /** AUTOSAR bit number: least significant bit if little-endian, most significant if big-endian. */
  start: number;
  /** 1–64. */
  length: number;
  byteOrder: 'little' | 'big';
}

/** `false` unsigned, `true` two's complement, `'magnitude'` sign in the top bit and magnitude below it. */
export type Signedness = boolean | 'magnitude';

/**
 * Unsigned value of a field of the payload that starts at `payload[from]`.
 * Exact up to 53 bits; longer fields are rounded to the nearest double (`readBitsBig` is exact).
 */
export function readBits(payload: Uint8Array, from: number, field: BitField): number {
  const { start, length } = field;
  if (length > 32) {
    const [high, low] = halves(field);
    return readBits(payload, from, high) * 2 ** 32 + readBits(payload, from, low);
  }
  let at = from + (start >> 3);
  const bit = start & 7;
  if (field.byteOrder === 'little') {
    let value = (payload[at] as number) >> bit;
    for (let have = 8 - bit; have < length; have += 8) value |= (payload[++at] as number) << have;
    return length === 32 ? value >>> 0 : value & ((1 << length) - 1);
  }
  let value = (payload[at] as number) & ((2 << bit) - 1);
  let have = bit + 1;
  if (have >= length) return value >> (have - length);
  for (; length - have >= 8; have += 8) value = (value << 8) | (payload[++at] as number);
  const rest = length - have;
  if (rest > 0) value = (value << rest) | ((payload[++at] as number) >> (8 - rest));
  return value >>> 0;
}

/** Raw value of a field with its sign. Exact up to 53 bits. */
export function readRaw(payload: Uint8Array, from: number, field: BitField & { signed: Signedness }): number {
  const value = readBits(payload, from, field);
  if (field.signed === false) return value;
  const half = 2 ** (field.length - 1);
  if (value < half) return value;
  return field.signed === true ? value - 2 * half : half - value;
}

export type FieldReader = (payload: Uint8Array, from: number) => number;

/** `readRaw` prepared for one field, for loops over many frames: several times as fast. */
export function fieldReader(field: BitField & { signed: Signedness }): FieldReader {
  const { start, length, byteOrder, signed } = field;
  const first = start >> 3;
  const bytes = bytesNeeded(field) - first;
  if (bytes > 4 || signed === 'magnitude') {
    const copy = { start, length, byteOrder, signed };
    return (payload, from) => readRaw(payload, from, copy);
  }
  const load = (byteOrder === 'little' ? LITTLE : BIG)[bytes - 1] as FieldReader;
  // Up to four bytes stand in one 32-bit word: the field goes to its top, and comes down with or without its sign.
  const below = byteOrder === 'little' ? start & 7 : 8 * bytes - 8 + (start & 7) + 1 - length;
  const up = 32 - length - below;
  const down = 32 - length;
  return signed
    ? (payload, from) => (load(payload, from + first) << up) >> down
    : (payload, from) => (load(payload, from + first) << up) >>> down;
}

/**
 * Writes the low `length` bits of an integer, so a negative one goes in as two's complement; all other bits stay.
 * Exact for |value| ≤ 2⁵³ (`writeBitsBig` for more).
 */
export function writeBits(payload: Uint8Array, from: number, field: BitField, value: number): void {
  const { start, length } = field;
  if (length > 32) {
    const [high, low] = halves(field);
    writeBits(payload, from, high, Math.floor(value / 2 ** 32));
    writeBits(payload, from, low, value);
    return;
  }
  // `>>> 0` keeps the low 32 bits of any integer up to 2⁵³ (ECMA-262 ToUint32).
  let left = value >>> 0;
  let at = from + (start >> 3);
  let bit = start & 7;
  if (field.byteOrder === 'little') {
    for (let todo = length; todo > 0; at++) {
      const n = Math.min(8 - bit, todo);
      const mask = ((1 << n) - 1) << bit;
      payload[at] = ((payload[at] as number) & ~mask) | ((left << bit) & mask);
      left >>>= n;
      todo -= n;
      bit = 0;
    }
    return;
  }
  for (let todo = length; todo > 0; at++) {
    const n = Math.min(bit + 1, todo);
    const shift = bit + 1 - n;
    const mask = ((1 << n) - 1) << shift;
    payload[at] = ((payload[at] as number) & ~mask) | (((left >>> (todo - n)) << shift) & mask);
    todo -= n;
    bit = 7;
  }
}

/**
 * Writes a raw value with its sign.
 * @throws RangeError when the value is not an integer that the field can hold (`rawRange`).
 */
export function writeRaw(
  payload: Uint8Array,
  from: number,
  field: BitField & { signed: Signedness },
  value: number,
): void {
  const { lo, hi } = rawRange(field.length, field.signed);
  if (!Number.isInteger(value) || value < lo || value > hi) {
    throw new RangeError(
      `${value} does not fit a field of ${field.length} bits; an integer from ${lo} to ${hi} would`,
    );
  }
  const pattern = field.signed === 'magnitude' && value < 0 ? 2 ** (field.length - 1) - value : value;
  writeBits(payload, from, field, pattern);
}

/** Unsigned value of a field of up to 64 bits, exact. */
export function readBitsBig(payload: Uint8Array, from: number, field: BitField): bigint {
  if (field.length <= 32) return BigInt(readBits(payload, from, field));
  const [high, low] = halves(field);
  return (BigInt(readBits(payload, from, high)) << 32n) | BigInt(readBits(payload, from, low));
}

/** Raw value with its sign of a field of up to 64 bits, exact. */
export function readRawBig(
  payload: Uint8Array,
  from: number,
  field: BitField & { signed: Signedness },
): bigint {
  const value = readBitsBig(payload, from, field);
  const half = 1n << BigInt(field.length - 1);
  if (field.signed === false || value < half) return value;
  return field.signed === true ? value - 2n * half : half - value;
}

/** Writes the low `length` bits of an integer of any size; all other bits stay. */
export function writeBitsBig(payload: Uint8Array, from: number, field: BitField, value: bigint): void {
  const bits = BigInt.asUintN(field.length, value);
  if (field.length <= 32) {
    writeBits(payload, from, field, Number(bits));
    return;
  }
  const [high, low] = halves(field);
  writeBits(payload, from, high, Number(bits >> 32n));
  writeBits(payload, from, low, Number(bits & 0xffff_ffffn));
}

/** Smallest and largest raw value of a field; doubles, so rounded beyond 53 bits. */
export function rawRange(length: number, signed: Signedness): { lo: number; hi: number } {
  if (signed === false) return { lo: 0, hi: 2 ** length - 1 };
  const half = 2 ** (length - 1);
  return { lo: signed === true ? -half : 1 - half, hi: half - 1 };
}

/** AUTOSAR numbers of all bits of a field, least significant first. */
export function fieldBits(field: BitField): number[] {
  const bits: number[] = [];
  for (let i = 0; i < field.length; i++) {
    bits.push(field.byteOrder === 'little' ? field.start + i : bigEndianStep(field.start, i));
  }
  return field.byteOrder === 'little' ? bits : bits.reverse();
}

/** Payload bytes that must be present for the field to be read: one more than its last byte. */
export function bytesNeeded(field: BitField): number {
  const last =
    field.byteOrder === 'little'
      ? field.start + field.length - 1
      : bigEndianStep(field.start, field.length - 1);
  return (last >> 3) + 1;
}

/** AUTOSAR numbers of the bits that both fields claim, rising; empty when they do not overlap. */
export function sharedBits(a: BitField, b: BitField): number[] {
  const taken = new Set(fieldBits(a));
  return fieldBits(b)
    .filter((bit) => taken.has(bit))
    .sort((p, q) => p - q);
}

/** One to four bytes as a word, least significant byte first. */
const LITTLE: FieldReader[] = [
  (p, i) => p[i]!,
  (p, i) => p[i]! | (p[i + 1]! << 8),
  (p, i) => p[i]! | (p[i + 1]! << 8) | (p[i + 2]! << 16),
  (p, i) => p[i]! | (p[i + 1]! << 8) | (p[i + 2]! << 16) | (p[i + 3]! << 24),
];

/** The same, most significant byte first. */
const BIG: FieldReader[] = [
  (p, i) => p[i]!,
  (p, i) => (p[i]! << 8) | p[i + 1]!,
  (p, i) => (p[i]! << 16) | (p[i + 1]! << 8) | p[i + 2]!,
  (p, i) => (p[i]! << 24) | (p[i + 1]! << 16) | (p[i + 2]! << 8) | p[i + 3]!,
];

/** AUTOSAR number of the bit reached after `steps` steps of the big-endian walk. */
function bigEndianStep(start: number, steps: number): number {
  // Counting each byte from its top bit makes the walk a plain +1.
  const index = (start ^ 7) + steps;
  return index ^ 7;
}

/** A field longer than 32 bits as its high part and its low 32 bits. */
function halves(field: BitField): [BitField, BitField] {
  const { start, length, byteOrder } = field;
  const high = length - 32;
  return byteOrder === 'little'
    ? [
        { start: start + 32, length: high, byteOrder },
        { start, length: 32, byteOrder },
      ]
    : [
        { start, length: high, byteOrder },
        { start: bigEndianStep(start, high), length: 32, byteOrder },
      ];
}
