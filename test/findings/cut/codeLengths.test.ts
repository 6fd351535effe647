import { describe, expect, test } from 'vitest';
import { codeLengths, type Series } from '../../../src/findings/cut/codeLengths.ts';
import { gammaTables, logGamma } from '../../../src/findings/cut/logGamma.ts';
import { random } from '../traffic.ts';

function seriesOf(values: number[], width: number, begins: number[] = [0]): Series {
  const known = [...new Set(values)];
  const marks = new Uint8Array(values.length);
  for (const i of begins) marks[i] = 1;
  return {
    values: Uint32Array.from(values),
    begins: marks,
    ranks: Uint16Array.from(values, (v) => known.indexOf(v)),
    distinct: known.length,
    width,
    active: width,
  };
}

test('log-gamma is exact where factorials and the square root of pi tell it', () => {
  // Γ(5) = 24, Γ(½) = √π, Γ(3.5) = 15 √π / 8 (Abramowitz and Stegun 6.1.12).
  expect(logGamma(5)).toBeCloseTo(Math.log(24), 12);
  expect(logGamma(0.5)).toBeCloseTo(Math.log(Math.PI) / 2, 12);
  const { half, one } = gammaTables(5000);
  expect(half[3]).toBeCloseTo(Math.log((15 * Math.sqrt(Math.PI)) / 8), 12);
  expect(one[4]).toBeCloseTo(Math.log(24), 12);
  expect(one[5000]).toBeCloseTo(logGamma(5001), 6);
});

test('the enumeration code costs what coding frame by frame with growing counts costs', () => {
  const dice = random(21);
  const values: number[] = [2];
  for (let i = 1; i < 300; i++)
    values.push(dice() < 0.8 ? (values[i - 1] as number) : Math.floor(dice() * 5));
  const k = new Set(values).size;
  const stay = new Map<number, [number, number]>();
  const next = new Map<string, number>();
  let cost = k * 3 * Math.log(2) + Math.log(k);
  for (let i = 1; i < values.length; i++) {
    const [was, now] = [values[i - 1] as number, values[i] as number];
    const [stays, changes] = stay.get(was) ?? [0, 0];
    const same = was === now;
    cost -= Math.log(((same ? stays : changes) + 0.5) / (stays + changes + 1));
    stay.set(was, same ? [stays + 1, changes] : [stays, changes + 1]);
    if (same) continue;
    const seen = next.get(`${was} ${now}`) ?? 0;
    cost -= Math.log((seen + 0.5) / (changes + (k - 1) / 2));
    next.set(`${was} ${now}`, seen + 1);
  }
  expect(codeLengths(seriesOf(values, 3)).enumeration).toBeCloseTo(cost, 8);
});

describe('the cheapest code is the one that knows the motion', () => {
  const dice = random(3);
  const walk = (steps: number, low: number, high: number) => {
    let v = Math.round((low + high) / 2);
    return Array.from({ length: 500 }, () => {
      v = Math.min(high, Math.max(low, v + Math.round((dice() - 0.5) * steps)));
      return v;
    });
  };

  test('a counter for a counter, also one that skips the highest value', () => {
    for (const cycle of [16, 15]) {
      const codes = codeLengths(
        seriesOf(
          Array.from({ length: 500 }, (_, i) => i % cycle),
          4,
        ),
      );
      expect(codes.counter).toBeLessThan(Math.min(codes.enumeration, codes.unsigned, codes.levels));
    }
  });

  test('a signed number for one that crosses zero, an unsigned one for one that does not', () => {
    const around = codeLengths(
      seriesOf(
        walk(8, -100, 100).map((v) => (v + 4096) % 4096),
        12,
      ),
    );
    expect(around.signed).toBeLessThan(around.unsigned - 10);
    const above = codeLengths(seriesOf(walk(8, 1996, 2100), 12));
    expect(above.unsigned).toBeLessThan(above.signed);
  });

  test('a number that goes round for an angle', () => {
    const angle = Array.from({ length: 500 }, (_, i) => (i * 29 + Math.floor(dice() * 5)) % 1024);
    const codes = codeLengths(seriesOf(angle, 10));
    expect(codes.modular).toBeLessThan(codes.unsigned);
  });

  test('level memory for values that hop between few levels', () => {
    const levels = [100, 612, 344, 90];
    let at = 0;
    const hops = Array.from({ length: 500 }, () => {
      if (dice() < 0.3) at = (at + 1) % 4;
      return levels[at] as number;
    });
    const codes = codeLengths(seriesOf(hops, 10));
    expect(codes.levels).toBeLessThan(codes.unsigned);
  });

  test('nothing beats noise for noise', () => {
    const codes = codeLengths(
      seriesOf(
        Array.from({ length: 500 }, () => Math.floor(dice() * 256)),
        8,
      ),
    );
    const { uniform, unsigned, signed, modular, levels } = codes;
    expect(uniform).toBeLessThan(Math.min(unsigned, signed, modular, levels));
  });
});

test('"not available" in the middle of a drive does not make a number dear', () => {
  const dice = random(5);
  let v = 1000;
  const plain = Array.from({ length: 400 }, () => {
    v += Math.round((dice() - 0.5) * 6);
    return v;
  });
  const gap = plain.map((value, i) => (i > 150 && i < 250 ? 65535 : value));
  const cost = (values: number[]) => codeLengths(seriesOf(values, 16)).unsigned;
  expect(cost(gap)).toBeLessThan(cost(plain) + 40);
});

test('nothing is predicted across the joint of two recordings', () => {
  const values = [
    ...Array.from({ length: 100 }, (_, i) => i),
    ...Array.from({ length: 100 }, (_, i) => 900 + i),
  ];
  const joined = codeLengths(seriesOf(values, 10));
  const apart = codeLengths(seriesOf(values, 10, [0, 100]));
  expect(joined.changes).toBe(199);
  expect(apart.changes).toBe(198);
});
