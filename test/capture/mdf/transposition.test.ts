import fc from 'fast-check';
import { expect, test } from 'vitest';
import { transposed, untransposed } from '../../../src/capture/mdf/transposition.ts';

test('columns turn back into the rows they were made of', () => {
  fc.assert(
    fc.property(
      fc.uint8Array({ minLength: 1, maxLength: 200 }),
      fc.integer({ min: 1, max: 40 }),
      (bytes, row) => {
        expect(untransposed(transposed(bytes, row), row)).toEqual(bytes);
      },
    ),
    { seed: 20261125 },
  );
});

test('where a damaged file claims a row longer than its data, nothing is turned and nothing counted', () => {
  const bytes = Uint8Array.of(1, 2, 3);
  expect(untransposed(bytes, 0xffff_ffff)).toBe(bytes);
});
