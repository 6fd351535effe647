import fc from 'fast-check';
import { expect, test } from 'vitest';
import { transposed, untransposed } from '../../../src/capture/mdf/transposition.ts';

const seed = Number(process.env.SEED ?? 20261125);

test('two rows of three bytes are written column by column, and what is left over stays behind them', () => {
  expect([...transposed(Uint8Array.of(1, 2, 3, 4, 5, 6, 7, 8), 3)]).toEqual([1, 4, 2, 5, 3, 6, 7, 8]);
});

test('turning columns back gives the rows, for rows of any length', () => {
  fc.assert(
    fc.property(fc.uint8Array({ maxLength: 200 }), fc.integer({ min: 1, max: 250 }), (bytes, row) => {
      expect([...untransposed(transposed(bytes, row), row)]).toEqual([...bytes]);
    }),
    { seed, numRuns: 200 },
  );
});
