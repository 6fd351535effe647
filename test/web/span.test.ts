import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  LEAST_S,
  lengthText,
  moved,
  ticksOf,
  timeText,
  widthOf,
  within,
  zoomed,
} from '../../web/parts/timeline/span.ts';

const bounds = fc
  .tuple(fc.double({ min: -1e3, max: 1e9, noNaN: true }), fc.double({ min: 1, max: 1e6, noNaN: true }))
  .map(([from, width]) => ({ from, to: from + width }));
const share = fc.double({ min: 0, max: 1, noNaN: true });

describe('a stretch of the time axis', () => {
  const inside = fc.tuple(bounds, share, share, share).map(([all, a, b, at]) => {
    const [from, to] = [Math.min(a, b), Math.max(a, b)].map((s) => all.from + s * widthOf(all)) as [
      number,
      number,
    ];
    const view = within({ from, to }, all);
    return { all, view, at: view.from + at * widthOf(view) };
  });
  const lies = (view: { from: number; to: number }, all: { from: number; to: number }) => {
    const little = 1e-9 * Math.max(1, Math.abs(all.from), Math.abs(all.to));
    expect(view.from).toBeGreaterThanOrEqual(all.from - little);
    expect(view.to).toBeLessThanOrEqual(all.to + little);
    expect(widthOf(view)).toBeGreaterThan(LEAST_S * 0.99 - little);
  };

  test('never leaves the recording, however it is moved or zoomed', () => {
    fc.assert(
      fc.property(inside, fc.double({ min: 0.001, max: 1000, noNaN: true }), ({ all, view, at }, by) => {
        lies(view, all);
        lies(zoomed(view, by, at, all), all);
        lies(moved(view, by * widthOf(view), all), all);
        lies(moved(view, -by * widthOf(view), all), all);
      }),
    );
  });

  test('keeps what is under the pointer when it comes closer', () => {
    fc.assert(
      fc.property(inside, fc.double({ min: 0.1, max: 1, noNaN: true }), ({ all, view, at }, factor) => {
        const near = zoomed(view, factor, at, all);
        const place = (span: typeof view) => (at - span.from) / widthOf(span);
        // Doubles of a time far from nought are coarse against a close look.
        const grain = (Math.abs(all.to) * 1e-14) / widthOf(near);
        expect(Math.abs(place(near) - place(view))).toBeLessThan(1e-6 + grain);
      }),
    );
  });
});

test('ticks are few, round, within, and told apart by their decimals', () => {
  const span = fc
    .tuple(fc.double({ min: 0, max: 1e5, noNaN: true }), fc.double({ min: -3.5, max: 5, noNaN: true }))
    .map(([from, power]) => ({ from, to: from + 10 ** power }));
  fc.assert(
    fc.property(span, fc.integer({ min: 2, max: 12 }), (view, most) => {
      const { times, decimals } = ticksOf(view, most);
      expect(times.length).toBeLessThanOrEqual(most + 1);
      for (const time of times) {
        expect(time).toBeGreaterThanOrEqual(view.from - 1e-9);
        expect(time).toBeLessThanOrEqual(view.to + 1e-9);
      }
      expect(new Set(times.map((time) => time.toFixed(decimals))).size).toBe(times.length);
    }),
  );
  expect(ticksOf({ from: 0, to: 30 }, 8)).toEqual({ times: [0, 5, 10, 15, 20, 25, 30], decimals: 0 });
});

test('times and lengths read as a person writes them', () => {
  expect(timeText(12.3456789, { from: 12, to: 13 })).toBe('12.346');
  expect([0.0004, 0.25, 12.5, 150].map(lengthText)).toEqual(['400 µs', '250 ms', '12.5 s', '2 min 30 s']);
});
