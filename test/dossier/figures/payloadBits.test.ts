import fc from 'fast-check';
import { expect, test } from 'vitest';
import { columnOf, piecesOf, topColumn } from '../../../src/dossier/figures/payloadBits.ts';

test('a little-endian field over 12 bits is two pieces with falling bits and one with rising bits', () => {
  const field = { start: 0, length: 12, byteOrder: 'little' } as const;
  expect(piecesOf(field, 'falling', 64)).toEqual([
    { first: 0, last: 7 },
    { first: 12, last: 15 },
  ]);
  expect(piecesOf(field, 'rising', 64)).toEqual([{ first: 0, last: 11 }]);
  expect(topColumn(field, 'falling')).toBe(12);
});

test('every field covers as many columns as it has bits, in either layout and byte order', () => {
  fc.assert(
    fc.property(
      fc.integer({ min: 0, max: 120 }),
      fc.integer({ min: 1, max: 64 }),
      fc.constantFrom('little', 'big') as fc.Arbitrary<'little' | 'big'>,
      fc.constantFrom('falling', 'rising') as fc.Arbitrary<'falling' | 'rising'>,
      (start, length, byteOrder, layout) => {
        const pieces = piecesOf({ start, length, byteOrder }, layout, 64);
        expect(pieces.reduce((sum, { first, last }) => sum + last - first + 1, 0)).toBe(length);
        const top = topColumn({ start, length, byteOrder }, layout);
        expect(pieces.some(({ first, last }) => first <= top && top <= last)).toBe(true);
        expect(columnOf(columnOf(start, layout), layout)).toBe(start);
      },
    ),
  );
});
