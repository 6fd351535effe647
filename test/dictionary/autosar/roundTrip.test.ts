import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { readAutosar, writeAutosar } from '../../../src/dictionary/autosar/index.ts';
import { dictionaries } from '../arbitrary.ts';

describe('AUTOSAR system descriptions', () => {
  test('any dictionary comes back from its own description as it was', () => {
    fc.assert(
      fc.property(dictionaries, (dictionary) => {
        const bytes = new TextEncoder().encode(writeAutosar([{ dictionary, bitRateBps: 500_000 }]));
        const read = readAutosar(new TextDecoder().decode(bytes));
        expect(read.problems).toEqual([]);
        expect(read.dictionaries).toEqual([dictionary]);
      }),
      { numRuns: 25 },
    );
  });
});
