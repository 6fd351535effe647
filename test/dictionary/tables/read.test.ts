import { describe, expect, test } from 'vitest';
import { columnWords, readCsv, readTable, type TableOptions } from '../../../src/dictionary/tables/index.ts';

function read(lines: string[], options: TableOptions = {}) {
  return readTable(readCsv(lines.join('\n')).table, 'chassis', options);
}

const HEAD =
  'Msg Name;CAN ID;DLC;Cycle Time [s];Signal Name;Startbit;Length [Bit];Byte Order;Value Type;Factor;Offset;Unit;Min;Max;Comment;Colour';

describe('a table as people keep it', () => {
  test('columns are told by their headers, and what is left out is said', () => {
    const { dictionary, columns, notes, questions, problems } = read([
      'Traffic of the van;;;',
      HEAD,
      'speeds;0D0;8;0,02;left;7;16;Motorola;unsigned;0,01;0;km/h;0;250;from the wheel;red',
      ';;;;right;23;16;Motorola;signed;0,01;-5,5;km/h;;;;',
      'pedals;1A0;8;;pressed;0;1;Intel;;;;;;;;',
    ]);
    expect(problems).toEqual([]);
    expect(questions).toEqual([]);
    expect(notes).toEqual([
      'columns left out: Colour',
      '1 rows above the headers left out',
      '1 rows without "CAN ID" belong to the message above',
      'identifiers read as hexadecimal: "0D0" can be nothing else',
    ]);
    expect(columns.map((c) => c.meaning)).toEqual([
      ...['message', 'id', 'messageLength', 'period', 'name', 'start', 'length', 'order', 'signed', 'scale'],
      ...['offset', 'unit', 'min', 'max', 'note'],
    ]);
    expect(columns.every((c) => c.confidence >= 0.8)).toBe(true);
    expect(dictionary.messages).toMatchObject([
      {
        name: 'speeds',
        id: 0x0d0,
        length: 8,
        periodMs: 20,
        signals: [
          {
            name: 'left',
            start: 7,
            length: 16,
            byteOrder: 'big',
            scale: 0.01,
            max: 250,
            note: 'from the wheel',
          },
          { name: 'right', start: 23, signed: true, offset: -5.5 },
        ],
      },
      {
        name: 'pedals',
        id: 0x1a0,
        periodMs: null,
        signals: [{ name: 'pressed', start: 0, byteOrder: 'little' }],
      },
    ]);
  });

  test('every row that does not fit is told with row, column, what was found and what is expected', () => {
    const { dictionary, problems, rows } = read([
      'id,name,start bit,length,byte order,scale,values,selector value',
      '0x100,good,0,8,little,1,0=off; 1=on,',
      '0x100,wide,8,65,little,1,,',
      'here,other,8,8,little,1,,',
      '0x100,middle,8,8,middle,1,,',
      '0x100,factor,8,8,little,one half,,',
      '0x100,table,8,8,little,1,0=a;0=b,',
      '0x100,on top,4,8,little,1,,',
      '0x100,outside,60,8,little,1,,',
      '0x100,under,16,8,little,1,,3',
      '0x100,zero,24,8,little,0,,',
    ]);
    expect(rows).toBe(10);
    expect(problems.map((p) => [p.row, p.column])).toEqual([
      [3, 'length'],
      [4, 'id'],
      [5, 'byte order'],
      [6, 'scale'],
      [7, 'values'],
      [8, 'start bit'],
      [9, 'start bit'],
      [10, 'selector value'],
      [11, 'scale'],
    ]);
    expect(problems[5]?.found).toBe('on top claims bits 4–7 of good');
    expect(problems[0]).toEqual({ row: 3, column: 'length', found: '"65"', expected: '1 to 64 bits' });
    expect(dictionary.messages[0]?.signals.map((s) => s.name)).toEqual(['good']);
  });

  test('a column named by a person counts, by header, letter or number', () => {
    const lines = ['A;B;C;D;E', '256;speed;0;8;little'];
    expect(read(lines).problems[0]?.found).toMatch(/^no column for identifier/);
    for (const words of ['id=A,name=B,start=C,length=D,order=E', 'id=1,name=2,start=3,length=4,order=5']) {
      const named = read(lines, { columns: columnWords(words), id: 'decimal' });
      expect(named.problems).toEqual([]);
      expect(named.dictionary.messages[0]).toMatchObject({
        id: 256,
        signals: [{ name: 'speed', length: 8 }],
      });
    }
    expect(() => columnWords('colour=A')).toThrow(/names no column; right would be meaning=header/);
  });

  test('what nothing in the table tells is asked, not guessed in silence', () => {
    const plain = read(['id,name,start,bits', '100,a,0,8']);
    expect(plain.questions).toHaveLength(2);
    expect(plain.questions[0]).toMatch(/can be decimal or hexadecimal/);
    expect(plain.questions[1]).toMatch(/no column for the byte order/);
    expect(
      read(['id,name,start,bits', '100,a,0,8'], { id: 'hex', byteOrder: 'big', startBit: 'autosar' })
        .questions,
    ).toEqual([]);
  });
});

describe('start bits', () => {
  const row = (start: string, bits: number, order = 'big', name = `s${start}`) =>
    `0x100,${name},${start},${bits},${order},8`;
  const head = 'id,name,start,bits,byte order,dlc';
  const starts = (lines: string[], options: TableOptions = {}) => {
    const result = read([head, ...lines], options);
    return {
      ...result.places,
      starts: result.dictionary.messages[0]?.signals.map((s) => s.start),
      all: result,
    };
  };

  test('the numbering is the one under which fields fit without sharing bits', () => {
    // 12 bits in bytes 0 and 1, then 20 bits on: only as most significant bits do they lie side by side.
    const high = starts([row('7', 12), row('11', 20), row('39', 16)]);
    expect(high).toMatchObject({ convention: 'autosar', rivals: [], starts: [7, 11, 39] });
    // The same fields by their least significant bits.
    const low = starts([row('12', 12), row('24', 20), row('40', 16)]);
    expect(low).toMatchObject({ convention: 'lowest', rivals: [], starts: [7, 11, 39] });
    // The same fields counted from the top bit of byte 0.
    const top = starts([row('0', 12), row('12', 20), row('32', 16)]);
    expect(top).toMatchObject({ convention: 'from-top', rivals: [], starts: [7, 11, 39] });
    expect(high.words).toMatch(/all fields fit without sharing bits \(do not fit: /);
  });

  test('where two numberings fit and differ, that is a question; one that is stated is none', () => {
    const open = starts([row('12', 4)]);
    expect(open.rivals?.length).toBeGreaterThan(0);
    expect(open.all.questions[0]).toMatch(/^start bits: "autosar" fits/);
    expect(starts([row('12', 4)], { startBit: 'lowest' })).toMatchObject({ starts: [15], confidence: 1 });
    expect(starts([row('12', 4, 'little')]).all.questions).toEqual([]);
  });
});
