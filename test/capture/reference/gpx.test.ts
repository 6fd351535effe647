import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { greatCircleM, readGpx } from '../../../src/capture/reference/gpx.ts';

const point = (lat: number, lon: number, time: string, more = '') =>
  `<trkpt lat="${lat}" lon="${lon}"><ele>12.5</ele><time>${time}</time>${more}</trkpt>`;
const track = (...segments: string[]) =>
  `<?xml version="1.0"?>\n<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1" xmlns:x="urn:x">\n<trk>${segments
    .map((s) => `<trkseg>${s}</trkseg>`)
    .join('\n')}</trk></gpx>`;
const at = (s: number) => `2026-05-12T09:30:${String(s).padStart(2, '0')}Z`;

describe('a GPX track', () => {
  test('gives the speed of the extension in m/s, with course and altitude', () => {
    const more = (v: number) =>
      `<extensions><x:e><x:speed>${v}</x:speed><x:course>90</x:course></x:e></extensions>`;
    const { series, problems, guess } = readGpx(
      track(point(50, 7, at(0), more(3)) + point(50, 7.1, at(1), more(4))),
    );
    expect(problems).toEqual([]);
    expect(guess).toContain('as the receiver gave it');
    expect(series.map(({ name, unit, value }) => [name, unit, ...value])).toEqual([
      ['speed', 'm/s', 3, 4],
      ['heading', 'deg', 90, 90],
      ['altitude', 'm', 12.5, 12.5],
    ]);
    expect(series[0]!.originNs).toBe(BigInt(Date.UTC(2026, 4, 12, 9, 30)) * 1_000_000n);
  });

  test('without an extension gives distance over time in the middle of two points', () => {
    // One degree of latitude on a sphere of 6,371,008.8 m (IUGG mean radius): 111,195.08 m.
    expect(greatCircleM({ lat: 0, lon: 0 }, { lat: 1, lon: 0 })).toBeCloseTo(111_195.08, 1);
    const { series } = readGpx(
      track(point(0, 0, at(0)) + point(0.001, 0, at(10)) + point(0.001, 0.001, at(20))),
    );
    const [speed, heading] = series;
    expect([...speed!.timeS]).toEqual([5, 15]);
    expect([...speed!.value]).toEqual([expect.closeTo(11.1195, 3), expect.closeTo(11.1195, 3)]);
    expect([...heading!.value]).toEqual([expect.closeTo(0, 3), expect.closeTo(90, 3)]);
  });

  test('keeps the gap between two segments', () => {
    const { series } = readGpx(
      track(point(0, 0, at(0)) + point(0.001, 0, at(5)), point(0.5, 0, at(9)) + point(0.501, 0, at(14))),
    );
    expect([...series[0]!.value].map(Number.isNaN)).toEqual([false, true, false]);
  });

  test('leaves out points whose time is missing or runs backwards, each told with its line', () => {
    const { series, problems } = readGpx(
      track(
        `${point(0, 0, at(5))}\n${point(0, 0, at(5))}\n${point(0, 0, at(1))}\n${point(0, 0, 'noon')}\n${point(0, 0, at(6))}`,
      ),
    );
    expect(series[0]!.timeS.length).toBe(1);
    expect(problems.map(({ line, found }) => [line, found])).toEqual([
      [4, 'the time of the point before, a second time'],
      [5, 'a time before that of the point before'],
      [6, 'a track point without a readable time'],
    ]);
  });

  test('gives what stands before a break in the XML, and the place of the break', () => {
    const whole = track(point(0, 0, at(0)) + point(0.001, 0, at(1)));
    const { series, problems } = readGpx(whole.slice(0, whole.indexOf('</trkseg>')));
    expect(series[0]!.timeS.length).toBe(1);
    expect(problems[0]).toMatchObject({ line: 3, weight: 'caution' });
    expect(problems[0]!.found).toContain('broken XML');
  });

  test('never throws, whatever is cut, changed or put in', () => {
    const whole = track(point(0, 0, at(0)) + point(0.001, 0, at(1)), point(0.2, 0, at(3)));
    const inserts = fc.constantFrom(
      '<',
      '&',
      '&a;',
      '</trk>',
      '<trkpt>',
      ']]>',
      '\u0000',
      '<!DOCTYPE a [<!ENTITY b "c">]>',
      '"',
    );
    fc.assert(
      fc.property(fc.nat(whole.length), fc.nat(20), inserts, (from, cut, put) => {
        const { series, problems } = readGpx(whole.slice(0, from) + put + whole.slice(from + cut));
        for (const { timeS, value } of series) {
          expect(value.length).toBe(timeS.length);
          for (let i = 1; i < timeS.length; i++) expect(timeS[i]!).toBeGreaterThan(timeS[i - 1]!);
        }
        for (const { line, column } of problems) expect(line === 0 || column >= 1).toBe(true);
      }),
      { numRuns: 400 },
    );
    fc.assert(fc.property(fc.string(), (text) => void readGpx(text)));
    expect(readGpx('').problems.map((p) => p.found)).toContain('no track points (trkpt)');
  });
});

test('a number beyond what a number can hold is none', () => {
  const more = (v: string) => `<extensions><x:speed>${v}</x:speed></extensions>`;
  const text = track(
    point(50, 7, at(0), more('1e999')) + point(50, 7.1, at(1), more('4')) + point(50, 7.2, at(2), more('5')),
  );
  expect([...(readGpx(text).series[0]?.value ?? [])]).toEqual([Number.NaN, 4, 5]);
});

test('a single point without speed or altitude is refused with a reason', () => {
  const text =
    '<gpx><trk><trkseg><trkpt lat="50" lon="7"><time>2026-05-12T09:30:00Z</time></trkpt></trkseg></trk></gpx>';
  const { series, problems } = readGpx(text);
  expect(series).toEqual([]);
  expect(problems.at(-1)).toMatchObject({ found: expect.stringContaining('no two track points') });
});
