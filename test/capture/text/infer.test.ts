import { describe, expect, test } from 'vitest';
import { text } from '../../../src/capture/formats/text.ts';
import { inferLayout } from '../../../src/capture/text/infer.ts';
import { framesOf, readText } from '../frames.ts';

/** Invented traffic of eight messages on two buses, base and extended. */
interface Line {
  n: number;
  us: number;
  bus: number;
  id: number;
  ext: number;
  data: number[];
}

const SEED = 20080611;
const EPOCH_S = 1_700_000_000;
const hex = (value: number, digits: number) => value.toString(16).toUpperCase().padStart(digits, '0');
const hexId = (f: Line) => hex(f.id, f.ext ? 8 : 3);
const hexData = (f: Line, between = '') => f.data.map((b) => hex(b, 2)).join(between);
const seconds = (us: number) => `${Math.floor(us / 1e6)}.${String(us % 1e6).padStart(6, '0')}`;
const clock = (us: number) => `13:05:${seconds(us).padStart(9, '0')}`;
const padded = (words: string[], count: number) => [...words, ...Array(count - words.length).fill('')];

function traffic(count: number, ids: 'all' | 'base'): Line[] {
  const messages = [0x0de, 0x1a0, 0x2b0, 0x101, 0x3f2, 0x055, 0x0cf00400, 0x18fef121].slice(
    0,
    ids === 'all' ? 8 : 6,
  );
  const lengths = [8, 8, 5, 8, 3, 2, 8, 8];
  let state = SEED;
  const random = () => {
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    return state >>> 0;
  };
  let us = 0;
  return Array.from({ length: count }, (_, n) => {
    us += 200 + (random() % 1000);
    const k = random() % messages.length;
    const id = messages[k] as number;
    const data = Array.from({ length: lengths[k] as number }, (_, j) => (j % 3 === 2 ? 0 : random() & 255));
    return { n, us, bus: random() & 1, id, ext: id > 0x7ff ? 1 : 0, data };
  });
}

interface Shape {
  /** What the text looks like. */
  shape: string;
  line: (f: Line) => string;
  header?: string;
  ids?: 'base';
  /** What must have been inferred, in the words of `columns`. */
  columns: string;
  /** Buses as the text gives them, where it is not 0. */
  bus?: (f: Line) => number;
  /** Microseconds of the first digit that the text keeps. */
  tick?: number;
  notes?: string[];
}

const own = (f: Line) => f.bus;
const SHAPES: Shape[] = [
  {
    shape: 'bracketed time, interface name, identifier and payload joined',
    line: (f) => `(${seconds(f.us + 0)}) can${f.bus} ${hexId(f)}#${hexData(f)}`,
    columns: 'time:s,bus,joined',
    bus: own,
  },
  {
    shape: 'bracketed time since 1970, name, identifier, length in brackets, separate bytes',
    line: (f) =>
      ` (${EPOCH_S + Math.floor(f.us / 1e6)}.${String(f.us % 1e6).padStart(6, '0')})  can${f.bus}  ${hexId(f)}   [${f.data.length}]  ${hexData(f, ' ')}`,
    columns: 'time:s,bus,id:hex,length,bytes:hex',
    bus: own,
  },
  {
    shape: 'commas, header, microseconds, true and false, eight byte fields of which some stay empty',
    header: 'Time_us,ID,Extended,Bus,LEN,D1,D2,D3,D4,D5,D6,D7,D8',
    line: (f) =>
      [
        f.us,
        hexId(f),
        f.ext ? 'true' : 'false',
        f.bus,
        f.data.length,
        ...padded(
          f.data.map((b) => hex(b, 2)),
          8,
        ),
      ].join(','),
    columns: 'time:us,id:hex,ext,bus,length,bytes8:hex',
    bus: own,
  },
  {
    shape: 'commas, header, nanoseconds since 1970, direction, separate bytes',
    header: 'timestamp,id,ext,dir,bus,length,d0,d1,d2,d3,d4,d5,d6,d7',
    line: (f) =>
      `${EPOCH_S}${String(f.us).padStart(6, '0')}000,${hexId(f)},${f.ext},Rx,${f.bus},${f.data.length},${hexData(f, ',')},`,
    columns: 'time:ns,id:hex,ext,direction,bus,length,bytes:hex',
    bus: own,
  },
  {
    shape:
      'semicolons, header, milliseconds with decimal commas, decimal identifiers and bytes in one column',
    header: 'Time [ms];ID (dec);Len;Data',
    ids: 'base',
    line: (f) => `${(f.us / 1000).toFixed(3).replace('.', ',')};${f.id};${f.data.length};${f.data.join(' ')}`,
    columns: 'time:ms,id:dec,length,data:dec',
  },
  {
    shape: 'semicolons, no header, decimal identifiers, decimal bytes',
    ids: 'base',
    line: (f) => `${seconds(f.us).replace('.', ',')};${f.id};${f.data.length};${f.data.join(';')}`,
    columns: 'time:s,id:dec,length,bytes:dec',
  },
  {
    shape: 'tabs, no header, payload as one hex string',
    line: (f) => `${seconds(f.us)}\t${f.bus}\t${hexId(f)}\t${hexData(f)}`,
    columns: 'time:s,bus,id:hex,data',
    bus: own,
  },
  {
    shape: 'tabs, whole microseconds, 0x before identifier and payload, 0 or 1 for 29 bits',
    line: (f) => `${f.us}\t0x${f.id.toString(16)}\t${f.ext}\t0x${hexData(f)}`,
    columns: 'time:us,id:hex,ext,data',
  },
  {
    shape: 'blanks, separate bytes, time behind them',
    line: (f) => `${f.bus}  ${hexId(f)}  ${f.data.length}  ${hexData(f, '  ')}  ${seconds(f.us)} R`,
    columns: 'bus,id:hex,length,bytes:hex,time:s',
    bus: own,
  },
  {
    shape: 'commas, whole milliseconds, nothing but time, identifier and payload',
    ids: 'base',
    line: (f) => `${Math.floor(f.us / 1000)},${hexId(f)},${hexData(f)}`,
    columns: 'time:ms,id:hex,data',
    tick: 1000,
  },
  {
    shape: 'numbered lines, milliseconds with a tenth, direction',
    line: (f) =>
      `${f.n + 1}) ${(Math.floor(f.us / 100) / 10).toFixed(1)} ${f.bus ? 'Tx' : 'Rx'} ${hexId(f)} ${f.data.length} ${hexData(f, ' ')}`,
    columns: '-,time:ms,direction,id:hex,length,bytes:hex',
    tick: 100,
  },
  {
    shape: 'clock time, bus, identifier, separate bytes without a length',
    line: (f) => `${clock(f.us)} ${f.bus} ${hexId(f)} ${hexData(f, ' ')}`,
    columns: 'time:clock,bus,id:hex,bytes:hex',
    bus: own,
  },
  {
    shape: 'date and time in one column',
    line: (f) => `2024-05-01 ${clock(f.us)};${hexId(f)};${hexData(f)}`,
    columns: 'time:date,id:hex,data',
  },
  {
    shape: 'date and time in two columns',
    line: (f) => `2024-05-01 ${clock(f.us)} ${hexId(f)} ${hexData(f)}`,
    columns: 'day,time:clock,id:hex,data',
  },
  {
    shape: 'quoted values, bytes with blanks between them',
    header: '"Time","Bus","ID","Extended","Data"',
    line: (f) => `"${seconds(f.us)}","${f.bus}","0x${f.id.toString(16)}","${f.ext}","${hexData(f, ' ')}"`,
    columns: 'time:s,bus,id:hex,ext,data',
    bus: own,
  },
  {
    shape: 'bytes with dashes between them',
    line: (f) => `${seconds(f.us)},${hexId(f)},${hexData(f, '-')}`,
    columns: 'time:s,id:hex,data',
  },
  {
    shape: 'milliseconds since 1970 with decimals',
    line: (f) =>
      `${EPOCH_S}${String(Math.floor(f.us / 1000)).padStart(3, '0')}.${String(f.us % 1000).padStart(3, '0')},${f.bus},${hexId(f)},${hexData(f)}`,
    columns: 'time:ms,bus,id:hex,data',
    bus: own,
  },
  {
    shape: 'all identifiers padded to eight digits',
    line: (f) => `${seconds(f.us)},${hex(f.id, 8)},${hexData(f)}`,
    columns: 'time:s,id:hex,data',
  },
  {
    shape: 'a counter before the time',
    line: (f) => `${f.n},${seconds(f.us)},${f.bus},${hexId(f)},${f.data.length},${hexData(f)}`,
    columns: '-,time:s,bus,id:hex,length,data',
    bus: own,
  },
  {
    shape: 'a counter before a time in whole microseconds',
    line: (f) => `${f.n + 1};${f.us};${hexId(f)};${hexData(f)}`,
    columns: '-,time:us,id:hex,data',
  },
  {
    shape: 'words of the trade in the header',
    header: 'Timestamp,Channel,Identifier,DLC,Payload',
    line: (f) => `${seconds(f.us)},${f.bus},${hexId(f)},${f.data.length},${hexData(f, ' ')}`,
    columns: 'time:s,bus,id:hex,length,data',
    bus: own,
  },
  {
    shape: 'lines of talk before the header',
    header: 'Recorded on the bench, supply 13.8 V\nUnit: column steering unit\n\nt;bus;id;data',
    line: (f) => `${seconds(f.us)};${f.bus};${hexId(f)};${hexData(f)}`,
    columns: 'time:s,bus,id:hex,data',
    bus: own,
    notes: ['The 3 lines before the first frame hold none, the header line among them.'],
  },
];

describe.each([300, 12])('columns are inferred from %i lines', (count) => {
  test.each(SHAPES)(
    '$shape',
    ({ line, header, ids, columns, bus = () => 0, tick = 1, notes: expected = [] }) => {
      const lines = traffic(count, ids ?? 'all');
      const { capture, guess, notes } = readText(
        text,
        `${header ? `${header}\n` : ''}${lines.map(line).join('\n')}\n`,
      );
      expect(guess).toContain(`: ${columns};`);
      expect(capture.count).toBe(count);
      expect(notes).toEqual(expected);
      const first = Math.floor((lines[0] as Line).us / tick) * tick;
      expect(
        framesOf(capture).map((f) => ({
          us: Math.round(Number(f.ns - capture.originNs) / 1000 - (capture.time[0] as number) * 1e6),
          id: f.id,
          ext: f.flags & 1,
          bus: f.bus,
          data: f.data,
        })),
      ).toEqual(
        lines.map((f) => ({
          us: Math.floor(f.us / tick) * tick - first,
          id: f.id,
          ext: f.ext,
          bus: bus(f),
          data: f.data,
        })),
      );
    },
  );
});

test('the confidence falls with lines that do not fit and with choices that were open', () => {
  const sure = traffic(100, 'all').map((f) => `${seconds(f.us)},${hexId(f)},${hexData(f)}`);
  const confidence = (lines: string[]) =>
    Number(/confidence (\d\.\d\d)/.exec(readText(text, `${lines.join('\n')}\n`).guess)?.[1]);
  expect(confidence(sure)).toBe(1);
  expect(confidence(sure.map((line, n) => (n % 10 === 7 ? 'not a frame, is it,' : line)))).toBeCloseTo(
    0.9,
    2,
  );
  const vague = traffic(100, 'base').map((f) => `${Math.floor(f.us / 1000)},${hexId(f)},${hexData(f)}`);
  expect(confidence(vague)).toBeLessThan(0.99);
});

test('named columns overrule what would be inferred', () => {
  const lines = '100,10,0011\n200,11,0022\n';
  const { capture, guess } = readText(text, lines, { columns: 'time:ms,id:dec,data' });
  expect([...capture.id]).toEqual([10, 11]);
  expect([...capture.time]).toEqual([0.1, 0.2]);
  expect(guess).toBe(
    'text with commas between columns: time:ms,id:dec,data; 29-bit by eight digits (columns as named; 2 of 2 sample lines fit)',
  );
});

test('without a time column the frames are kept only when the columns are named, and the notes say so', () => {
  const { capture, notes } = readText(text, '1A0,0011\n1A1,0022\n', { columns: 'id,data' });
  expect([...capture.time]).toEqual([0, 0]);
  expect(notes).toEqual(['No column holds time: all frames stand at 0 s.']);
});

test('named columns that fit no line are refused with the first line', () => {
  expect(() => readText(text, 'a,b,c\nd,e,f\n', { columns: 'time,id,data' })).toThrow(
    'No line fits the columns "time,id,data"; line 1 is "a,b,c".',
  );
});

test('a table of hundreds of columns is no recording, and is told so at once', () => {
  const lines = Array.from({ length: 20 }, () => Array.from({ length: 3000 }, () => '5').join(','));
  expect(inferLayout(lines)).toMatchObject({ missing: expect.stringMatching(/128 columns or more/) });
});
