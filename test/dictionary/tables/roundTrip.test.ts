import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { dictionaryProblems } from '../../../src/dictionary/problems.ts';
import { readCsv, readTable, tableOf, textRows, writeCsv } from '../../../src/dictionary/tables/index.ts';
import { dictionaries } from '../arbitrary.ts';

describe('tables of text', () => {
  test('any dictionary comes back from its own table as it was', () => {
    fc.assert(
      fc.property(dictionaries, (dictionary) => {
        expect(dictionaryProblems(dictionary)).toEqual([]);
        // Through bytes, as a file is.
        const bytes = new TextEncoder().encode(writeCsv(textRows(tableOf([dictionary]))));
        const { table, problems } = readCsv(new TextDecoder().decode(bytes));
        expect(problems).toEqual([]);
        const read = readTable(table, dictionary.bus);
        if (dictionary.messages.length === 0) return;
        expect(read.problems).toEqual([]);
        expect(read.questions).toEqual([]);
        expect(read.dictionary).toEqual(dictionary);
      }),
      { numRuns: 25 },
    );
  });

  test('any text is read without a crash, and what comes of it has no problems', () => {
    const word = fc.oneof(
      fc.constantFrom(
        'id',
        'name',
        'start bit',
        'length',
        'byte order',
        '1A0',
        '0',
        '8',
        '16',
        'big',
        'x',
        '',
        ',',
        '\n',
        '"',
        ';',
        '2.4',
        'values',
        '0=off',
      ),
      fc.string({ unit: 'binary', maxLength: 6 }),
    );
    fc.assert(
      fc.property(fc.array(word, { maxLength: 60 }), fc.constantFrom(',', ';', '\t', ''), (words, sign) => {
        const { table } = readCsv(`id${sign}name${sign}start${sign}bits${sign}order\n${words.join(sign)}`);
        const read = readTable(table, 'chassis');
        expect(dictionaryProblems(read.dictionary)).toEqual([]);
      }),
      { numRuns: 25 },
    );
  });
});
