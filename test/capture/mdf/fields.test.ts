import fc from 'fast-check';
import { expect, test } from 'vitest';
import { fieldOf, read } from '../../../src/capture/mdf/fields.ts';

const seed = Number(process.env.SEED ?? 20261125);

test('whole numbers of any width, place, sign and byte order are read as their bits say', () => {
  fc.assert(
    fc.property(
      fc.uint8Array({ minLength: 12, maxLength: 12 }),
      fc.nat({ max: 2 }),
      fc.nat({ max: 7 }),
      fc.integer({ min: 1, max: 64 }),
      fc.nat({ max: 3 }),
      (bytes, byte, bit, bits, dataType) => {
        const field = fieldOf({ byte, bit, bits, dataType });
        if (field === null) throw new Error('this is a number');
        const count = (bit + bits + 7) >> 3;
        const own = [...bytes.subarray(byte + 1, byte + 1 + count)];
        if (dataType % 2 === 0) own.reverse();
        const all = BigInt(`0x${own.map((b) => b.toString(16).padStart(2, '0')).join('')}`) >> BigInt(bit);
        const expected = dataType < 2 ? BigInt.asUintN(bits, all) : BigInt.asIntN(bits, all);
        expect(read(bytes, 1, field)).toBe(Number(expected));
      },
    ),
    { seed, numRuns: 500 },
  );
});

test('floating point is read in either byte order; other sizes and texts are no numbers', () => {
  const bytes = new Uint8Array(9);
  new DataView(bytes.buffer).setFloat64(1, -1.25, false);
  expect(read(bytes, 1, { byte: 0, bit: 0, bits: 64, order: 'big', kind: 'float' })).toBe(-1.25);
  new DataView(bytes.buffer).setFloat32(1, 0.5, true);
  expect(read(bytes, 1, { byte: 0, bit: 0, bits: 32, order: 'little', kind: 'float' })).toBe(0.5);
  expect(fieldOf({ byte: 0, bit: 0, bits: 16, dataType: 4 })).toBeNull();
  expect(fieldOf({ byte: 0, bit: 1, bits: 32, dataType: 4 })).toBeNull();
  expect(fieldOf({ byte: 0, bit: 0, bits: 65, dataType: 0 })).toBeNull();
  expect(fieldOf({ byte: 0, bit: 0, bits: 64, dataType: 10 })).toBeNull();
});
