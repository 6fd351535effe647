import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  type BitField,
  bytesNeeded,
  fieldBits,
  fieldReader,
  rawRange,
  readBits,
  readBitsBig,
  readRaw,
  readRawBig,
  sharedBits,
  writeBits,
  writeBitsBig,
  writeRaw,
} from '../../src/can/bits.ts';

/** A field that fits 64 payload bytes, with any byte order and sign. */
const anyField = (maxLength: number) =>
  fc
    .record({
      start: fc.integer({ min: 0, max: 400 }),
      length: fc.integer({ min: 1, max: maxLength }),
      byteOrder: fc.constantFrom('little' as const, 'big' as const),
      signed: fc.constantFrom(false as const, true as const, 'magnitude' as const),
    })
    .filter((f) => bytesNeeded(f) <= 60);

/** The definition itself: bit by bit along the walk of the standard. */
function walk(field: BitField): number[] {
  const bits: number[] = [];
  let at = field.start;
  for (let i = 0; i < field.length; i++) {
    bits.push(at);
    if (field.byteOrder === 'little') at += 1;
    else at = at % 8 === 0 ? at + 15 : at - 1;
  }
  return field.byteOrder === 'little' ? bits : bits.reverse();
}

function bitByBit(payload: Uint8Array, from: number, field: BitField): bigint {
  return walk(field).reduce(
    (sum, bit, i) => sum | (BigInt(((payload[from + (bit >> 3)] as number) >> (bit & 7)) & 1) << BigInt(i)),
    0n,
  );
}

const bytes64 = fc.uint8Array({ minLength: 64, maxLength: 64 });

describe('bit fields', () => {
  test('fieldBits walks as the standard does', () => {
    fc.assert(
      fc.property(anyField(64), (f) => {
        expect(fieldBits(f)).toEqual(walk(f));
        expect(bytesNeeded(f)).toBe(Math.max(...walk(f).map((b) => b >> 3)) + 1);
      }),
    );
  });

  test('reading equals collecting the bits one by one', () => {
    fc.assert(
      fc.property(bytes64, anyField(64), fc.integer({ min: 0, max: 4 }), (payload, f, from) => {
        const expected = bitByBit(payload, from, f);
        expect(readBitsBig(payload, from, f)).toBe(expected);
        expect(readBits(payload, from, f)).toBe(Number(expected));
      }),
      { numRuns: 1000 },
    );
  });

  test('what was written is read back, and no other bit changes', () => {
    fc.assert(
      fc.property(bytes64, anyField(64), fc.bigInt({ min: 0n, max: 2n ** 64n - 1n }), (payload, f, value) => {
        const before = payload.slice();
        writeBitsBig(payload, 0, f, value);
        expect(readBitsBig(payload, 0, f)).toBe(BigInt.asUintN(f.length, value));
        for (const bit of walk(f)) {
          const keep = ~(1 << (bit & 7));
          before[bit >> 3] = (before[bit >> 3] as number) & keep;
          payload[bit >> 3] = (payload[bit >> 3] as number) & keep;
        }
        expect(payload).toEqual(before);
      }),
      { numRuns: 500 },
    );
  });

  test('signed values survive the round trip in two’s complement and in sign-magnitude', () => {
    fc.assert(
      fc.property(bytes64, anyField(53), fc.double({ min: 0, max: 1, noNaN: true }), (payload, f, share) => {
        const { lo, hi } = rawRange(f.length, f.signed);
        const value = Math.min(hi, lo + Math.floor(share * (hi - lo)));
        writeRaw(payload, 0, f, value);
        expect(readRaw(payload, 0, f)).toBe(value);
        expect(readRawBig(payload, 0, f)).toBe(BigInt(value));
      }),
      { numRuns: 1000 },
    );
  });

  test('a reader prepared for a field reads what readRaw reads', () => {
    fc.assert(
      fc.property(bytes64, anyField(40), fc.integer({ min: 0, max: 4 }), (payload, f, from) => {
        expect(fieldReader(f)(payload, from)).toBe(readRaw(payload, from, f));
      }),
      { numRuns: 2000 },
    );
  });

  test('a negative number goes in as two’s complement', () => {
    const payload = new Uint8Array(8);
    writeBits(payload, 0, { start: 7, length: 16, byteOrder: 'big' }, -2);
    expect([...payload.subarray(0, 2)]).toEqual([0xff, 0xfe]);
    writeBits(payload, 0, { start: 16, length: 40, byteOrder: 'little' }, -2);
    expect([...payload.subarray(2, 7)]).toEqual([0xfe, 0xff, 0xff, 0xff, 0xff]);
  });

  test('negative zero in sign-magnitude reads as 0', () => {
    const f = { start: 0, length: 8, byteOrder: 'little' as const, signed: 'magnitude' as const };
    expect(readRaw(Uint8Array.of(0x80), 0, f)).toBe(0);
    expect(readRaw(Uint8Array.of(0x83), 0, f)).toBe(-3);
  });

  test('a value that does not fit is refused with its range', () => {
    const f = { start: 0, length: 8, byteOrder: 'little' as const, signed: true };
    expect(() => writeRaw(new Uint8Array(1), 0, f, 128)).toThrow(
      '128 does not fit a field of 8 bits; an integer from -128 to 127 would',
    );
    expect(() => writeRaw(new Uint8Array(1), 0, f, 0.5)).toThrow(RangeError);
  });

  test('sharedBits names the bits that two fields both claim', () => {
    const little: BitField = { start: 4, length: 8, byteOrder: 'little' };
    expect(sharedBits(little, { start: 7, length: 4, byteOrder: 'big' })).toEqual([4, 5, 6, 7]);
    expect(sharedBits(little, { start: 3, length: 4, byteOrder: 'big' })).toEqual([]);
  });
});
