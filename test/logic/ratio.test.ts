import fc from 'fast-check';
import { expect, test } from 'vitest';
import { INT_MAX } from '../../src/logic/error.ts';
import { ratioFor, scaleRatio, usefulPart } from '../../src/logic/ratio.ts';
import { drive } from './drive.ts';

const SEED = 20261125;

test('a scaled value differs from the exact one by no more than the stated bound, and stays in its limits', () => {
  console.log(`seed ${SEED}`);
  fc.assert(
    fc.property(
      fc.integer({ min: -(2 ** 20), max: 2 ** 20 }),
      fc.integer({ min: 0, max: 2 ** 16 }),
      fc.double({ min: -200, max: 200, noNaN: true }),
      fc.double({ min: -1e5, max: 1e5, noNaN: true }),
      fc.array(fc.double({ min: 0, max: 1, noNaN: true }), { minLength: 1, maxLength: 8 }),
      (from, width, factor, offset, parts) => {
        const [lo, hi] = [-30_000, 65_535];
        const a = { lo: from, hi: from + width };
        const part = usefulPart(a, factor, offset, lo, hi);
        const bound = ratioFor(part, factor, offset)!.errorMax;
        const values = [a.lo, a.hi, part.lo, part.hi, ...parts.map((p) => from + Math.round(width * p))];
        const scaled = drive((b) => scaleRatio(b, b.input('x', a.lo, a.hi), factor, offset, lo, hi), values);
        values.forEach((x, i) => {
          const exact = Math.min(hi, Math.max(lo, factor * x + offset));
          expect(Math.abs(scaled[i]! - exact)).toBeLessThanOrEqual(bound + 1e-9);
        });
      },
    ),
    { seed: SEED, numRuns: 400 },
  );
});

test('an exact ratio is exact, with halves rounded up', () => {
  const halves = drive((b) => scaleRatio(b, b.input('x', -5, 5), 0.5, 0, -100, 100), [-5, -4, -3, 0, 1, 3]);
  expect(halves).toEqual([-2, -2, -1, 0, 1, 2]);
  const tens = drive((b) => scaleRatio(b, b.input('x', -5, 5), -10, 3, -100, 100), [-5, 0, 5]);
  expect(tens).toEqual([53, 3, -47]);
  expect(ratioFor({ lo: 0, hi: 65535 }, 0.25, 0)).toEqual({ m: 1, shift: 2, c: 2, base: 0, errorMax: 0.5 });
});

test('the smallest shift that adds no more than 1/256 of a unit is taken', () => {
  const ratio = ratioFor({ lo: 0, hi: 4095 }, 0.1, 0)!;
  expect(ratio.errorMax).toBeLessThanOrEqual(0.5 + 1 / 256);
  expect(
    4095 * Math.abs(0.1 - Math.round(0.1 * 2 ** (ratio.shift - 1)) / 2 ** (ratio.shift - 1)),
  ).toBeGreaterThan(1 / 256);
});

test('a ratio too large for 32 bits is refused, but what lies beyond the limits does not count', () => {
  expect(ratioFor({ lo: 0, hi: INT_MAX }, 2, 0)).toBeNull();
  expect(() => drive((b) => scaleRatio(b, b.input('x', 0, 2 ** 20), 5000, 0, 0, INT_MAX), [0])).toThrow(
    /leaves 32 bits/,
  );
  expect(
    drive((b) => scaleRatio(b, b.input('x', 0, 2 ** 20), 5000, 0, 0, 60_000), [0, 7, 12, 13, 2 ** 20]),
  ).toEqual([0, 35_000, 60_000, 60_000, 60_000]);
});
