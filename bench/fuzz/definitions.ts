/** Message definitions of others: tables of text, spreadsheets, AUTOSAR system descriptions. */
import {
  readSpreadsheet,
  SpreadsheetError,
  writeSpreadsheet,
} from '../../src/build/dictionaryExchange/spreadsheet.ts';
import { CaptureError } from '../../src/capture/error.ts';
import { readAutosar, writeAutosar } from '../../src/dictionary/autosar/index.ts';
import { camelKeys } from '../../src/dictionary/case.ts';
import type { Dictionary } from '../../src/dictionary/model.ts';
import { dictionaryProblems } from '../../src/dictionary/problems.ts';
import { dictionarySchema } from '../../src/dictionary/schema.ts';
import {
  readCsv,
  readTable,
  type Table,
  tableOf,
  textRows,
  writeCsv,
} from '../../src/dictionary/tables/index.ts';
import type { Target, WholeRead } from './targets.ts';

export function definitions(): Target[] {
  const read: [name: string, seeds: readonly Uint8Array[], judge: (bytes: Uint8Array) => WholeRead][] = [
    ['table of signals', TABLES, (bytes) => judgedTable(readCsv(textOf(bytes)).table)],
    ['spreadsheet', SHEETS, judgedSheet],
    ['system description', DESCRIPTIONS, (bytes) => judgedDescription(textOf(bytes))],
  ];
  return read.map(([name, seeds, judge]) => ({
    name,
    seeds,
    whole: async (bytes) => judge(bytes),
    seldom: 40,
  }));
}

function judgedSheet(bytes: Uint8Array): WholeRead {
  try {
    return judgedTable(readSpreadsheet(bytes).table);
  } catch (error) {
    if (error instanceof SpreadsheetError)
      throw new CaptureError(`Refused: ${error.message.replace(/\s+/g, ' ')}.`);
    throw error;
  }
}

function judgedTable(table: Table): WholeRead {
  const { dictionary, problems } = readTable(table, 'chassis');
  return judged([dictionary], problems);
}

function judgedDescription(text: string): WholeRead {
  const { dictionaries, problems } = readAutosar(text);
  return judged(dictionaries, problems);
}

/** What is read contradicts nothing; what gives nothing says why. */
function judged(dictionaries: readonly Dictionary[], problems: readonly { found: string }[]): WholeRead {
  const wrong = dictionaries.flatMap(dictionaryProblems)[0];
  const count = dictionaries.reduce((sum, d) => sum + d.messages.length, 0);
  if (wrong !== undefined) return { count, nonsense: `a dictionary with ${wrong.found}` };
  if (count === 0 && problems[0] !== undefined)
    throw new CaptureError(`Refused: ${problems[0].found.replace(/\s+/g, ' ')}.`);
  return { count, nonsense: '' };
}

function textOf(bytes: Uint8Array): string {
  return new TextDecoder('utf-8').decode(bytes);
}

const DICTIONARY = camelKeys(
  dictionarySchema.parse({
    form: 'dictionary/1',
    bus: 'chassis',
    messages: [
      {
        name: 'wheel speeds',
        id: 0xd0,
        length: 8,
        period_ms: 20,
        sender: 'Curlew',
        counter: { start: 48, length: 4, skip: [15] },
        check: {
          start: 56,
          length: 8,
          algorithm: 'crc',
          poly: 0x1d,
          covers: [0, 1, 2, 3, 4, 5, 6],
          prefix: [1, 2],
        },
        signals: [
          { name: 'left', start: 7, length: 16, byte_order: 'big', scale: 0.01, unit: 'km/h', max: 250 },
          { name: 'right', start: 23, length: 16, byte_order: 'big', signed: true, note: 'a, "b" & <c>' },
        ],
      },
      {
        name: 'status',
        id: 0x18fef121,
        extended: true,
        length: 8,
        selector: { start: 0, length: 4 },
        signals: [
          {
            name: 'lamp',
            start: 8,
            length: 2,
            byte_order: 'little',
            selector_value: 1,
            values: { '0': 'off', '1': 'on' },
          },
          {
            name: 'heat',
            start: 8,
            length: 12,
            byte_order: 'little',
            selector_value: 2,
            offset: -40,
            unit: '°C',
          },
        ],
      },
    ],
  }),
);

const bytesOf = (text: string) => new TextEncoder().encode(text);
const TABLES = [
  writeCsv(textRows(tableOf([DICTIONARY]))),
  'Frame;CAN ID;Signal;Startbit;Length;Byte order;Factor;Unit\r\nspeeds;0D0;left;7;16;Motorola;0,01;km/h\r\n;;right;23;16;Motorola;0,01;km/h\r\n',
  'id,name,start byte,start bit,bits,order\n100,a,0,0,8,intel\n100,b,1,4,4,intel\n',
].map(bytesOf);
const SHEETS = [writeSpreadsheet(tableOf([DICTIONARY]), 'chassis')];
const DESCRIPTIONS = [bytesOf(writeAutosar([{ dictionary: DICTIONARY, bitRateBps: 500_000 }]))];
