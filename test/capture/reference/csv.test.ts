import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { readReferenceCsv } from '../../../src/capture/reference/csv.ts';

describe('delimited text', () => {
  test('gives name and unit from the header and seconds from the unit of the times', () => {
    const { series, guess, confidence, problems } = readReferenceCsv(
      't_ms,speed [km/h],pressure_bar\n0,10,1\n500,11.5,2\n1000,12,\n',
    );
    expect(problems).toEqual([]);
    expect([guess, confidence]).toEqual(['time in ms ("t_ms"), told by its header', 1]);
    expect(series.map(({ name, unit }) => [name, unit])).toEqual([
      ['speed', 'km/h'],
      ['pressure', 'bar'],
    ]);
    expect([...series[0]!.timeS]).toEqual([0, 0.5, 1]);
    expect([...series[1]!.value]).toEqual([1, 2, Number.NaN]);
    expect(series[0]!.originNs).toBeNull();
  });

  test.each([
    ['seconds by their decimals', '0.0,1\n0.2,2\n0.4,3\n', [0, 0.2, 0.4], null, 0.9],
    ['milliseconds by their step', '0,1\n200,2\n400,3\n', [0, 0.2, 0.4], null, 0.8],
    ['seconds since 1970 by their size', '1778578200.5,1\n1778578201.5,2\n', [0, 1], 1778578200500000000n, 1],
    ['milliseconds since 1970', '1778578200500,1\n1778578201500,2\n', [0, 1], 1778578200500000000n, 1],
    [
      'dates with a zone',
      '2026-05-12T11:30:00.5+02:00,1\n2026-05-12T09:30:01.500Z,2\n',
      [0, 1],
      1778578200500000000n,
      1,
    ],
    ['the time of day past midnight', '23:59:59,1\n00:00:00.5,2\n', [0, 1.5], null, 1],
  ])('tells %s', (_, text, times, origin, sure) => {
    const { series, confidence, problems } = readReferenceCsv(text);
    expect(problems).toEqual([]);
    expect([...series[0]!.timeS]).toEqual(times.map((t) => expect.closeTo(t, 9)));
    expect(series[0]!.originNs).toBe(origin);
    expect(confidence).toBeGreaterThanOrEqual(sure);
  });

  test('reads a decimal comma between semicolons, quotes, and comments', () => {
    const { series } = readReferenceCsv('# gauge\nZeit;"speed; (m/s)"\n0,0;1,5\n0,1;"2,5"\n');
    expect(series.map(({ name, unit, value }) => [name, unit, ...value])).toEqual([
      ['speed;', 'm/s', 1.5, 2.5],
    ]);
  });

  test('leaves out repeated and reversed times, each told with its line', () => {
    const { series, problems } = readReferenceCsv('t [s],v\n0,1\n1,2\n1,3\n0.5,4\n2,x\n,6\n3,7\n');
    expect([...series[0]!.timeS]).toEqual([0, 1, 2, 3]);
    expect([...series[0]!.value]).toEqual([1, 2, Number.NaN, 7]);
    expect(problems.map(({ line, column, found, weight }) => [line, column, found, weight])).toEqual([
      [4, 1, 'the time "1" a second time', 'caution'],
      [5, 1, 'the time "0.5", before that of the row above', 'caution'],
      [7, 1, 'no time', 'caution'],
      [6, 3, '"x"', 'caution'],
    ]);
  });

  test.each([
    ['', 'no rows'],
    ['t,v\n', 'a header and no rows'],
    ['a,b\nx,y\n', 'a header and no rows'],
    ['name,v\nx,1\ny,2\nx,0\nz,-1\n', 'no column that could be time'],
    ['t [s]\n1\n2\n', 'no column of numbers beside the times'],
  ])('says what is missing in %j', (text, found) => {
    const { series, problems } = readReferenceCsv(text);
    expect(series.every((s) => s.timeS.length === 0)).toBe(true);
    if (found !== 'a header and no rows' || text !== 'a,b\nx,y\n')
      expect(problems.map((p) => p.found)).toContain(found);
    expect(problems.some((p) => p.weight !== 'caution')).toBe(true);
  });

  test('does not believe a value that a column beside it calls invalid', () => {
    const { series, problems } = readReferenceCsv('t [s],speed [m/s],speed_valid\n0,1,1\n1,99,0\n2,3,1\n');
    expect(problems).toEqual([]);
    expect(series.map(({ name, value }) => [name, ...value])).toEqual([['speed', 1, Number.NaN, 3]]);
  });

  test('takes the column and the unit that the person names', () => {
    const text = 'a,b\n0,0\n1,1000\n2,2000\n';
    const { series, guess } = readReferenceCsv(text, { timeColumn: 'b', timeUnit: 'us' });
    expect([...series[0]!.timeS]).toEqual([0, 0.001, 0.002]);
    expect(guess).toContain('told by you');
    expect(readReferenceCsv(text, { timeColumn: 'c' }).problems[0]?.found).toBe('no column "c"');
  });

  test('never throws, and gives rising times and a place for each problem, whatever the text', () => {
    const cell = fc.oneof(
      fc.constantFrom('t', 'speed [km/h]', '', '"', '12:00:01', '2026-05-12T09:30:00Z', '1e9', 'x,y', '#'),
      fc.double().map(String),
      fc.integer().map(String),
      fc.string({ maxLength: 6 }),
    );
    const table = fc
      .tuple(fc.constantFrom(',', ';', '\t'), fc.array(fc.array(cell, { maxLength: 4 }), { maxLength: 12 }))
      .map(([sign, rows]) => rows.map((row) => row.join(sign)).join('\n'));
    fc.assert(
      fc.property(fc.oneof(table, fc.string({ maxLength: 200 })), (text) => {
        const { series, problems } = readReferenceCsv(text);
        const lines = text.split(/\r\n|\n|\r/).length;
        for (const { timeS, value } of series) {
          expect(value.length).toBe(timeS.length);
          for (let i = 1; i < timeS.length; i++) expect(timeS[i]!).toBeGreaterThan(timeS[i - 1]!);
          for (const v of value) expect(Number.isFinite(v) || Number.isNaN(v)).toBe(true);
        }
        for (const { line, column, found, expected } of problems) {
          expect(line).toBeLessThanOrEqual(lines);
          expect(line === 0 || column >= 1).toBe(true);
          expect([found, expected]).not.toContain('');
        }
        if (series.length === 0) expect(problems.length).toBeGreaterThan(0);
      }),
      { numRuns: 500 },
    );
  });

  test('gives back what was written', () => {
    const step = fc.double({ min: 0.001, max: 5, noNaN: true });
    const value = fc.double({ min: -1e6, max: 1e6, noNaN: true });
    fc.assert(
      fc.property(fc.array(fc.tuple(step, value), { minLength: 1, maxLength: 40 }), (rows) => {
        let t = 0;
        const times = rows.map(([dt]) => (t += dt));
        const text = `time [s];value [V]\n${rows.map(([, v], i) => `${times[i]};${v}`).join('\n')}`;
        const { series, problems } = readReferenceCsv(text);
        expect(problems).toEqual([]);
        expect([...series[0]!.timeS]).toEqual(times);
        expect([...series[0]!.value].map((v) => v + 0)).toEqual(rows.map(([, v]) => v + 0));
      }),
    );
  });
});

test('a line of thousands of columns is refused at once, with what would be right', () => {
  const { series, problems } = readReferenceCsv(`time [s],a${',b'.repeat(9000)}\n0,1\n1,2\n`);
  expect(series).toEqual([]);
  expect(problems.at(-1)).toMatchObject({
    line: 1,
    found: '9002 columns',
    expected: expect.stringContaining('at most 1000'),
  });
});
