import fc from 'fast-check';
import { expect, test } from 'vitest';
import { linear, linearError, towardsZero } from '../../src/bridge/linear.ts';
import { ProgramBuilder } from '../../src/logic/builder.ts';
import { compile } from '../../src/logic/run.ts';

type Make = (b: ProgramBuilder, a: number) => number;

function valuesOf(lo: number, hi: number, make: Make): (a: number) => number {
  const b = new ProgramBuilder('scaling', '');
  b.output('y', make(b, b.input('a', lo, hi)));
  const compiled = compile(b.finish());
  const outputs = new Float64Array(1);
  return (a) => {
    compiled.step(compiled.initial(), Float64Array.of(a), outputs);
    return outputs[0] as number;
  };
}

const decimal = fc
  .tuple(fc.integer({ min: -4000, max: 4000 }), fc.constantFrom(1, 2, 4, 5, 10, 16, 18, 100, 360))
  .map(([n, d]) => ({ n, d, value: n / d }));

test('a factor that is a fraction scales exactly: nearest, halves up, kept within its limits', () => {
  fc.assert(
    fc.property(
      decimal,
      decimal,
      fc.integer({ min: -40_000, max: 40_000 }),
      fc.integer({ min: 1, max: 60_000 }),
      (factor, offset, lo, span) => {
        const [least, most] = [-3000, 20_000];
        fc.pre(linearError({ lo, hi: lo + span }, factor.value, offset.value, least, most) === 0.5);
        const y = valuesOf(lo, lo + span, (b, a) => linear(b, a, factor.value, offset.value, least, most));
        for (const a of [lo, lo + span, lo + (span >> 1), lo + (span >> 3), lo + ((7 * span) >> 4)]) {
          const den = BigInt(factor.d * offset.d * 2);
          const exact =
            BigInt(2 * factor.n * offset.d) * BigInt(a) + BigInt(2 * offset.n * factor.d) + den / 2n;
          const floor = exact >= 0n ? exact / den : -((-exact + den - 1n) / den);
          expect(y(a)).toBe(Math.min(most, Math.max(least, Number(floor))));
        }
      },
    ),
    { seed: 20263, numRuns: 300 },
  );
});

test('kilometres per hour become metres per second without any error of their own', () => {
  const y = valuesOf(0, 40_000, (b, a) => linear(b, a, 1 / 3.6, 0, 0, 65_535));
  for (let a = 0; a <= 40_000; a += 7) expect(y(a)).toBe(Math.floor((10 * a + 18) / 36));
});

test('a factor that is no fraction stays within the error that is stated for it', () => {
  const factor = 180 / Math.PI;
  const error = linearError({ lo: -3000, hi: 3000 }, factor, 0.25, -200_000, 200_000) as number;
  const y = valuesOf(-3000, 3000, (b, a) => linear(b, a, factor, 0.25, -200_000, 200_000));
  expect(error).toBeLessThan(0.501);
  for (let a = -3000; a <= 3000; a += 11)
    expect(Math.abs(y(a) - (a * factor + 0.25))).toBeLessThanOrEqual(error);
});

test('an order is cut off towards zero, so that its size never exceeds what was allowed', () => {
  fc.assert(
    fc.property(
      fc.double({ min: 0.003, max: 40, noNaN: true }),
      fc.constantFrom(1, -1),
      fc.integer({ min: -50, max: 50 }),
      (size, sign, zero) => {
        const y = valuesOf(-3000, 3000, (b, a) => towardsZero(b, a, sign * size, zero, -200_000, 200_000));
        for (const a of [-3000, -1501, -40, -1, 0, 1, 7, 1999, 3000]) {
          const got = y(a) - zero;
          const exact = sign * size * a;
          expect(Math.abs(got)).toBeLessThanOrEqual(Math.abs(exact) + 1e-9);
          expect(Math.abs(exact) - Math.abs(got)).toBeLessThan(1.01);
          expect(got * exact).toBeGreaterThanOrEqual(0);
        }
      },
    ),
    { seed: 20264, numRuns: 200 },
  );
});

test('any field of up to 24 bits can be scaled by any factor that a dictionary may hold, near what is exact', () => {
  fc.assert(
    fc.property(
      fc.integer({ min: 1, max: 24 }),
      fc.boolean(),
      fc.double({ min: 1e-5, max: 1e5, noNaN: true }),
      fc.constantFrom(1, -1),
      fc.double({ min: -1e6, max: 1e6, noNaN: true }),
      fc.nat(2 ** 24 - 1),
      (bits, signed, size, sign, offset, seed) => {
        const lo = signed ? -(2 ** (bits - 1)) : 0;
        const hi = signed ? 2 ** (bits - 1) - 1 : 2 ** bits - 1;
        const factor = sign * size;
        const y = valuesOf(lo, hi, (b, a) => linear(b, a, factor, offset, -200_000, 200_000));
        const error = linearError({ lo, hi }, factor, offset, -200_000, 200_000) as number;
        for (const a of [lo, hi, lo + (seed % (hi - lo + 1))]) {
          const exact = Math.min(200_000, Math.max(-200_000, a * factor + offset));
          expect(Math.abs(y(a) - exact)).toBeLessThanOrEqual(error + 1e-6);
        }
      },
    ),
    { seed: 20267, numRuns: 400 },
  );
});
