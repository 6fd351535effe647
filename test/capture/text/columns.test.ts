import { expect, test } from 'vitest';
import { columnsText, parseColumns } from '../../../src/capture/text/columns.ts';

test('columns are named in order, with units and bases behind a colon', () => {
  expect(parseColumns('time:us, bus,id:dec,ext,-,length,bytes4:dec,flags')).toEqual([
    { kind: 'time', form: 'number', unit: 'us' },
    { kind: 'bus' },
    { kind: 'id', base: 10 },
    { kind: 'ext' },
    { kind: 'ignored' },
    { kind: 'length' },
    { kind: 'bytes', base: 10, fields: 4 },
    { kind: 'flags' },
  ]);
});

test('the words for columns are the words that name them', () => {
  for (const words of [
    'time:s,bus,id:hex,ext,data',
    'day,time:clock,joined,direction',
    'time:date,id:dec,length,bytes:dec',
    '-,time:ns,id:hex,data:dec,flags',
    'id:hex,bytes8:hex,time:ms',
  ]) {
    expect(columnsText(parseColumns(words))).toBe(words);
  }
});

test.each([
  ['time,id,dato', '"dato" is not a column; known are time (:s :ms :us :ns :clock :date), day, bus'],
  ['time:h,id,data', '"time:h" is not a column'],
  ['time,id:oct,data', '"id:oct" is not a column'],
  ['time,id3,data', '"id3" is not a column'],
  ['time,id,bytes65', '"bytes65" is not a column'],
  ['time,bus,ext', 'name no frame: give at least id and data (or bytes), or joined'],
  ['', '"" is not a column'],
])('%s is refused with what would be right', (words, reason) => {
  expect(() => parseColumns(words)).toThrow(reason);
});
