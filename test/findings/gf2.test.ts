import fc from 'fast-check';
import { expect, test } from 'vitest';
import { commonDivisor, degree, divisorsOfDegree, RowSpace, remainder } from '../../src/findings/gf2.ts';

/** Polynomials as big integers, the slow way that is easily seen to be right. */
const big = (p: Int32Array) => p.reduce((sum, word, w) => sum | (BigInt(word >>> 0) << BigInt(32 * w)), 0n);
const words = (value: bigint, count: number) =>
  Int32Array.from({ length: count }, (_, w) => Number(BigInt.asIntN(32, value >> BigInt(32 * w))));
const degreeOf = (p: bigint) => (p === 0n ? -1 : p.toString(2).length - 1);
const times = (a: bigint, b: bigint) => {
  let product = 0n;
  for (let k = 0n; b >> k > 0n; k++) if ((b >> k) & 1n) product ^= a << k;
  return product;
};
const modulo = (a: bigint, b: bigint) => {
  let rest = a;
  while (degreeOf(rest) >= degreeOf(b)) rest ^= b << BigInt(degreeOf(rest) - degreeOf(b));
  return rest;
};
const polynomial = (bits: number) => fc.bigInt({ min: 1n, max: (1n << BigInt(bits)) - 1n });

test('remainder and degree agree with long division on big integers', () => {
  fc.assert(
    fc.property(polynomial(120), polynomial(60), (a, b) => {
      const rest = words(a, 4);
      expect(degree(rest)).toBe(degreeOf(a));
      remainder(rest, words(b, 4));
      expect(big(rest)).toBe(modulo(a, b));
    }),
  );
});

test('the greatest common divisor divides both and holds every factor that both were given', () => {
  fc.assert(
    fc.property(polynomial(40), polynomial(40), polynomial(17), (a, b, shared) => {
      const [p, q] = [times(a, shared), times(b, shared)];
      const divisor = big(commonDivisor(words(p, 2), words(q, 2)));
      expect(modulo(p, divisor)).toBe(0n);
      expect(modulo(q, divisor)).toBe(0n);
      expect(modulo(divisor, shared)).toBe(0n);
    }),
  );
});

test('a product of two polynomials of degree eight has both among its divisors of degree eight', () => {
  fc.assert(
    fc.property(fc.integer({ min: 0, max: 255 }), fc.integer({ min: 0, max: 255 }), (a, b) => {
      const product = times(BigInt(a + 256), BigInt(b + 256));
      expect(divisorsOfDegree(words(product, 1), 8)).toEqual(expect.arrayContaining([a, b]));
    }),
    { numRuns: 30 },
  );
});

test('a row space has as many dimensions as sums of its rows tell apart', () => {
  const rows = fc.array(fc.integer({ min: 0, max: 0x7fff_ffff }), { minLength: 1, maxLength: 9 });
  fc.assert(
    fc.property(rows, (list) => {
      const space = new RowSpace(32);
      for (const value of list) space.insert(Int32Array.of(value));
      const sums = new Set([0]);
      for (const value of list) for (const sum of [...sums]) sums.add(sum ^ value);
      expect(2 ** space.rank).toBe(sums.size);
      for (const sum of sums) expect(space.reduce(Int32Array.of(sum))).toBe(-1);
    }),
  );
});
