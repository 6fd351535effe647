import fc from 'fast-check';
import { strToU8, zipSync } from 'fflate';
import { describe, expect, test } from 'vitest';
import {
  readSpreadsheet,
  SpreadsheetError,
  writeSpreadsheet,
} from '../../../src/build/dictionaryExchange/spreadsheet.ts';
import { readTable, tableOf } from '../../../src/dictionary/tables/index.ts';
import { dictionaries } from '../../dictionary/arbitrary.ts';

/** A spreadsheet with this sheet, in the parts that every one has. */
function sheet(body: string, more: Record<string, string> = {}): Uint8Array {
  const parts: Record<string, string> = {
    'xl/workbook.xml':
      '<workbook xmlns:r="x"><sheets><sheet name="Signals" sheetId="1" r:id="rId7"/><sheet name="Notes" sheetId="2" r:id="rId8"/></sheets></workbook>',
    'xl/_rels/workbook.xml.rels':
      '<Relationships><Relationship Id="rId7" Target="worksheets/a.xml"/><Relationship Id="rId8" Target="/xl/worksheets/b.xml"/></Relationships>',
    'xl/worksheets/a.xml': `<worksheet><sheetData>${body}</sheetData></worksheet>`,
    'xl/worksheets/b.xml':
      '<worksheet><sheetData><row r="3"><c r="B3"><v>7</v></c></row></sheetData></worksheet>',
    ...more,
  };
  return zipSync(Object.fromEntries(Object.entries(parts).map(([name, text]) => [name, strToU8(text)])), {
    level: 1,
  });
}

describe('spreadsheets', () => {
  test('any dictionary comes back from its own spreadsheet as it was', () => {
    fc.assert(
      fc.property(dictionaries, (dictionary) => {
        const { table, notes } = readSpreadsheet(writeSpreadsheet(tableOf([dictionary]), dictionary.bus));
        expect(notes).toEqual([]);
        if (dictionary.messages.length === 0) return;
        const read = readTable(table, dictionary.bus);
        expect(read.problems).toEqual([]);
        expect(read.dictionary).toEqual(dictionary);
      }),
      { numRuns: 25 },
    );
  });

  test('shared, rich and inline text, stored results of formulas, gaps and other sheets are read as they stand', () => {
    const { table, notes, sheets } = readSpreadsheet(
      sheet(
        '<row r="2"><c r="A2" t="s"><v>1</v></c><c r="C2" t="inlineStr"><is><t xml:space="preserve"> in </t></is></c></row>' +
          '<row r="9"><c r="B9"><f>1+1</f><v>2</v></c><c r="C9" t="b"><v>1</v></c><c r="D9" t="e"><v>#REF!</v></c></row>',
        {
          'xl/sharedStrings.xml':
            '<sst><si><t>one</t></si><si><r><t>wheel </t></r><r><t>speed_x000A_</t></r><rPh><t>no</t></rPh></si></sst>',
          'xl/vbaProject.bin': 'x',
        },
      ),
    );
    expect(table).toEqual({
      rows: [
        ['wheel speed\n', '', ' in '],
        ['', '2', 'yes', '#REF!'],
      ],
      numbers: [2, 9],
      decimal: '?',
    });
    expect(sheets).toEqual(['Signals', 'Notes']);
    expect(notes).toEqual([
      'sheets left out: Notes',
      'macros are not looked at',
      '1 cells with formulas: their stored results are taken',
      '1 cells hold an error of the spreadsheet (#REF! and such)',
    ]);
    expect(readSpreadsheet(sheet(''), 'Notes').table).toMatchObject({ rows: [['', '7']], numbers: [3] });
    expect(() => readSpreadsheet(sheet(''), 'Other')).toThrow(
      'it has no sheet "Other"; it has "Signals", "Notes"',
    );
  });

  test('a cell far out costs no memory and is told; a bomb is refused before it is unpacked', () => {
    const far = readSpreadsheet(
      sheet('<row r="1048576"><c r="A1048576"><v>1</v></c><c r="XFD1048576"><v>2</v></c></row>'),
    );
    expect(far.table).toMatchObject({ rows: [['1']], numbers: [1_048_576] });
    expect(far.notes).toContain('1 cells beyond column SR left out');
    const bomb = sheet('', { 'xl/sharedStrings.xml': `<sst>${' '.repeat(70 * 2 ** 20)}</sst>` });
    expect(bomb.length).toBeLessThan(1_000_000);
    expect(() => readSpreadsheet(bomb)).toThrow('it unpacks to more than 64 MB');
    expect(() => readSpreadsheet(new Uint8Array(17 * 2 ** 20))).toThrow('17.0 MB');
    const entity = sheet('', {
      'xl/sharedStrings.xml': '<!DOCTYPE x [<!ENTITY a "aaaa">]><sst><si><t>&a;</t></si></sst>',
    });
    expect(() => readSpreadsheet(entity)).toThrow(
      /sharedStrings.xml is no XML that can be read \(line 1: a document type/,
    );
  });

  test('cut and changed files give one sentence or a table, never a crash', () => {
    const whole = sheet('<row r="1"><c r="A1"><v>1</v></c></row>');
    const tried = (bytes: Uint8Array) => {
      try {
        readSpreadsheet(bytes);
      } catch (error) {
        expect(error).toBeInstanceOf(SpreadsheetError);
      }
    };
    for (let length = 0; length < whole.length; length += 3) tried(whole.slice(0, length));
    fc.assert(
      fc.property(
        fc.array(fc.tuple(fc.nat(whole.length - 1), fc.nat(255)), { minLength: 1, maxLength: 8 }),
        (changes) => {
          const bytes = whole.slice();
          for (const [at, value] of changes) bytes[at] = value;
          tried(bytes);
        },
      ),
      { numRuns: 100 },
    );
  });
});
