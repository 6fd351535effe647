import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { randomOf } from '../../../bench/fuzz/random.ts';
import { CaptureBuilder } from '../../../src/capture/store.ts';
import { BusTable } from '../../../src/capture/text/buses.ts';
import { parseColumns, type TextLayout } from '../../../src/capture/text/columns.ts';
import { emptyLineFrame, LINE, lineParser } from '../../../src/capture/text/lines.ts';
import { quickLines, type TextRun } from '../../../src/capture/text/quick.ts';

const LAYOUTS = [
  'time,bus,id,ext,data',
  'time,bus,id,ext,data,length,flags',
  'time:us,id:dec,length,bytes',
  'time:ns,id,length,bytes:dec',
  'time:ms,bus,direction,id,-,data',
  'time,bus,joined',
  '-,id,data',
  'bus,time,id,bytes',
];
const SEPARATORS = [',', ';', '\t', ' '] as const;

const run = (): TextRun => ({
  originSeconds: 0,
  originNanos: 0,
  lastTime: Number.NEGATIVE_INFINITY,
  line: 0,
  backwards: 0,
  firstBackwards: 0,
});

/** A line that fits the columns more or less. */
function line(random: () => number, layout: TextLayout): string {
  const below = (n: number) => Math.floor(random() * n);
  const of = <T>(list: readonly T[]) => list[below(list.length)] as T;
  const hex = (digits: number) =>
    Array.from({ length: digits }, () => of([...'0123456789abcdefABCDEF'])).join('');
  const size = of([0, 1, 2, 3, 8, 8, 8, 12, 64, 65]);
  const token = (kind: string): string => {
    switch (kind) {
      case 'time':
        return `${below(3) ? below(2 ** 31) : below(1e15)}${of(['', '.', ',', `.${hex(below(12)).replace(/[a-f]/gi, '7')}`, 'e1'])}`;
      case 'bus':
        return of(['0', '1', '7', '12', 'can0', 'can1', 'chassis', '"0"']);
      case 'id':
        return of([
          hex(3),
          hex(3),
          hex(8),
          `0${hex(7)}`,
          `${below(2 ** 30)}`,
          `0x${hex(3)}`,
          '1FFFFFFF',
          `00000${hex(2)}`,
          `000000${hex(2)}`,
          '7ff',
          '800',
        ]);
      case 'ext':
        return of(['0', '1', 'x', '']);
      case 'length':
        return of([`${size}`, `${size}`, '8', '08', '9', '']);
      case 'data':
        return hex(2 * size + (below(20) ? 0 : 1));
      case 'bytes':
        return Array.from({ length: size }, () => of([hex(2), hex(2), `${below(260)}`, `0${hex(2)}`])).join(
          layout.separator,
        );
      case 'joined':
        return `${of([hex(3), hex(8)])}#${hex(2 * size)}`;
      case 'direction':
        return of(['Rx', 'Tx', 'out', '']);
      case 'flags':
        return of(['', '', 'F', 'FB', 'T', 'R', 'WE']);
      default:
        return of(['x', '17', '', '(a b)']);
    }
  };
  const text = layout.columns
    .map(({ kind }) => token(kind))
    .join(layout.separator.repeat(layout.separator === ' ' ? 1 + below(2) : 1));
  const spoilt = below(4)
    ? text
    : text.slice(0, below(text.length)) +
      of([' ', '"', ',', ' ', '#', '\r', '\t', '0']) +
      text.slice(below(text.length));
  return (
    of(['', '', '', '', ' ', '# ']) +
    spoilt +
    of(['', '', '', '\r', ' ', `${layout.separator}more`, layout.separator])
  );
}

describe('the short way', () => {
  test('reads what it reads as the general way does, and stops at a line or behind the last', () => {
    let quick = 0;
    let all = 0;
    fc.assert(
      fc.property(
        fc.constantFrom(...LAYOUTS),
        fc.constantFrom(...SEPARATORS),
        fc.boolean(),
        fc.integer(),
        (words, separator, digits, seed) => {
          const random = randomOf(seed, 0).unit;
          const columns = parseColumns(words);
          const extendedBy = columns.some(({ kind }) => kind === 'ext')
            ? 'column'
            : digits
              ? 'digits'
              : 'value';
          const layout: TextLayout = { separator, columns, extendedBy };
          const text = Array.from({ length: 12 }, () => line(random, layout)).join('\n');
          const bytes = new TextEncoder().encode(text + (random() < 0.5 ? '\n' : ''));
          const names = new Map<number, string>();
          const otherNames = new Map<number, string>();
          const into = new CaptureBuilder(16);
          const taken = run();
          const buses = new BusTable(names);
          const reader = quickLines(layout, buses);
          const general = lineParser(layout, emptyLineFrame(), buses);
          if (reader === null) throw new Error(words);
          const frame = emptyLineFrame();
          const parse = lineParser(layout, frame, new BusTable(otherNames));
          for (let at = 0; at < bytes.length; ) {
            const before = into.count;
            const stopped = reader(bytes, at, into, taken);
            const got = into.finish();
            for (let i = before; i < into.count; i++) {
              const end = bytes.indexOf(10, at);
              expect(parse(bytes, at, end)).toBe(LINE.frame);
              const sum = frame.seconds + frame.nanos / 1e9;
              expect([got.id[i], got.bus[i], got.flags[i], got.length[i]]).toEqual([
                frame.id,
                frame.bus,
                frame.flags,
                frame.length,
              ]);
              expect(Math.abs((got.time[i] as number) - sum)).toBeLessThanOrEqual(sum * 1e-15);
              const from = got.offset[i] as number;
              expect([...got.payload.subarray(from, from + frame.stored)]).toEqual([
                ...frame.data.subarray(0, frame.stored),
              ]);
              at = end + 1;
            }
            expect(stopped).toBe(at);
            quick += into.count - before;
            all++;
            // The line at which it stopped is the general way's.
            if (at > bytes.lastIndexOf(10)) break;
            const end = bytes.indexOf(10, at);
            expect(general(bytes, at, end)).toBe(parse(bytes, at, end));
            at = end + 1;
          }
          expect(taken.line).toBe(into.count);
          expect(names).toEqual(otherNames);
        },
      ),
      { numRuns: 400 },
    );
    // Neither way is idle.
    expect(quick).toBeGreaterThan(300);
    expect(all).toBeGreaterThan(300);
  });

  test.each([
    ['time:clock,id,data', ','],
    ['day,time,id,data', ','],
    ['time,id,data:dec', ','],
    ['time,id,bytes2,-', ','],
    ['time,id,data,data', ','],
  ] as const)('leaves %s to the general way', (words, separator) => {
    const layout: TextLayout = { separator, columns: parseColumns(words), extendedBy: 'value' };
    expect(quickLines(layout, new BusTable(new Map()))).toBeNull();
  });
});
