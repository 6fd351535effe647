import { describe, expect, test } from 'vitest';
import { type Random, randomFor } from '../../../demo/generator/random.ts';
import { type Alignment, alignReference } from '../../../src/capture/reference/align.ts';
import { correlatePairs, spectrum } from '../../../src/capture/reference/fourier.ts';

/** A speed as of a drive: fourteen slow swings of random size around 40. */
function motion(random: Random): (t: number) => number {
  const swings = Array.from({ length: 14 }, () => ({
    w: 2 * Math.PI * (0.004 + 0.06 * random.next()),
    phase: 6.28 * random.next(),
    size: 3 + 6 * random.next(),
  }));
  return (t) => 40 + swings.reduce((s, { w, phase, size }) => s + size * Math.sin(w * t + phase), 0);
}

interface Drive {
  seconds: number;
  offsetS: number;
  ppm?: number;
  noise?: number;
  factor?: number;
  stepS?: number;
}

function recorded(
  random: Random,
  { seconds, offsetS, ppm = 0, noise = 0.5, factor = 1 / 3.6, stepS = 0.1 }: Drive,
) {
  const speed = motion(random);
  const reference = { timeS: [] as number[], value: [] as number[] };
  for (let t = 0; t < seconds; t += stepS * (1 + 0.1 * random.next())) {
    reference.timeS.push(t);
    reference.value.push((speed(t * (1 + ppm * 1e-6) + offsetS) + noise * random.normal()) * factor + 2);
  }
  const signal = { timeS: [] as number[], value: [] as number[] };
  for (let t = 0; t < seconds; t += 0.04) {
    signal.timeS.push(t);
    signal.value.push(Math.round((speed(t) + 0.2 * random.normal()) * 20) / 20);
  }
  return { reference, signal };
}

const found = (result: ReturnType<typeof alignReference>): Alignment => {
  if ('reason' in result) throw new Error(result.reason);
  return result;
};

describe('alignment', () => {
  test('the correlation by way of spectra is the sum that it stands for', () => {
    const random = randomFor(1, 'correlate');
    const series = () => Float64Array.from({ length: 13 }, () => random.normal());
    const [a, b, c, d] = [series(), series(), series(), series()];
    const [p, q] = correlatePairs(spectrum(a, 32), spectrum(b, 32), spectrum(c, 32), spectrum(d, 32));
    for (let k = -12; k <= 12; k++) {
      const sum = (x: Float64Array, y: Float64Array) => x.reduce((s, v, t) => s + v * (y[t + k] ?? 0), 0);
      expect(p[(k + 32) % 32]).toBeCloseTo(sum(a, b), 9);
      expect(q[(k + 32) % 32]).toBeCloseTo(sum(c, d), 9);
    }
  });

  test('a known offset lies in the stated interval for about 95 % of seeds, whatever scale and sign', () => {
    const seeds = 40;
    let [inside, square, stated] = [0, 0, 0];
    for (let seed = 1; seed <= seeds; seed++) {
      const random = randomFor(seed, 'offset');
      const offsetS = 40 * (random.next() - 0.5);
      const { reference, signal } = recorded(random, {
        seconds: 100,
        offsetS,
        stepS: 0.2,
        factor: seed % 2 ? 0.3 : -7,
      });
      const result = found(alignReference(reference, signal));
      expect(result.shiftHalfS, `seed ${seed}`).toBeLessThan(0.1);
      expect(Math.sign(result.r)).toBe(seed % 2 ? 1 : -1);
      if (Math.abs(result.shiftS - offsetS) <= result.shiftHalfS) inside++;
      square += (result.shiftS - offsetS) ** 2 / seeds;
      stated += (result.shiftHalfS / 2) ** 2 / seeds;
    }
    // 38 of 40 are expected; and the interval is not wide for the sake of it.
    expect(inside).toBeGreaterThanOrEqual(34);
    expect(Math.sqrt(square / stated)).toBeGreaterThan(0.6);
  }, 60_000);

  test('a known drift is found in a longer drive, within its interval for about 95 % of seeds', () => {
    const seeds = 16;
    let inside = 0;
    for (let seed = 1; seed <= seeds; seed++) {
      const random = randomFor(seed, 'drift');
      const ppm = 300 * (random.next() - 0.5);
      const { reference, signal } = recorded(random, { seconds: 500, offsetS: 3, ppm, stepS: 0.25 });
      const { driftPpm, driftHalfPpm, offsetS, shiftHalfS, middleS } = found(
        alignReference(reference, signal),
      );
      expect(driftHalfPpm, `seed ${seed}`).not.toBeNull();
      if (Math.abs(driftPpm - ppm) <= driftHalfPpm!) inside++;
      expect(Math.abs(offsetS - 3)).toBeLessThan(4 * (shiftHalfS + middleS * driftHalfPpm! * 1e-6));
    }
    expect(inside).toBeGreaterThanOrEqual(13);
  }, 60_000);

  test('a hole in the reference counts for nothing', () => {
    const { reference, signal } = recorded(randomFor(5, 'hole'), { seconds: 200, offsetS: -6 });
    reference.value = reference.value.map((v, i) =>
      reference.timeS[i]! > 80 && reference.timeS[i]! < 120 ? Number.NaN : v,
    );
    const { shiftS, pairs } = found(alignReference(reference, signal));
    expect(shiftS).toBeCloseTo(-6, 1);
    expect(pairs).toBeLessThan(reference.value.filter(Number.isFinite).length + 1);
  });

  test('readings typed every ten seconds are enough', () => {
    const { reference, signal } = recorded(randomFor(9, 'typed'), {
      seconds: 300,
      offsetS: 4,
      noise: 0.3,
      stepS: 8,
    });
    const { shiftS, shiftHalfS } = found(alignReference(reference, signal));
    expect(Math.abs(shiftS - 4)).toBeLessThan(0.3);
    expect(shiftHalfS).toBeLessThan(0.5);
  });

  test('a motion that repeats itself has two offsets that fit nearly as well, and says so', () => {
    const timeS = Array.from({ length: 2000 }, (_, i) => i * 0.1);
    const random = randomFor(3, 'repeats');
    const swing = (t: number) => Math.sin((2 * Math.PI * t) / 20) + Math.sin((2 * Math.PI * t) / 5);
    const of = () => ({ timeS, value: timeS.map((t) => swing(t) + 0.05 * random.normal()) });
    const { rivals, cautions } = found(alignReference(of(), of(), { relation: 'together' }));
    expect(rivals.length).toBeGreaterThan(0);
    expect(Math.abs(Math.abs(rivals[0]!.offsetS) - 20)).toBeLessThan(1);
    expect(cautions.join()).toMatch(/fit nearly as well/);
  });

  test('refuses what does not move, moves once, is too short, or is not alike', () => {
    const timeS = Array.from({ length: 1000 }, (_, i) => i * 0.1);
    const { reference, signal } = recorded(randomFor(2, 'refused'), { seconds: 100, offsetS: 0 });
    const reason = (a: Parameters<typeof alignReference>[0], b = signal) => {
      const result = alignReference(a, b);
      return 'reason' in result ? result.reason : `r ${result.r}`;
    };
    expect(reason({ timeS, value: timeS.map(() => 4) })).toMatch(/stands at 4 all the time/);
    expect(reason({ timeS: [1, 2, 3], value: [1, 2, 3] })).toMatch(/only 3 usable values/);
    expect(reason({ timeS, value: timeS.map((t) => t) }, { timeS, value: timeS.map((t) => t) })).toMatch(
      /too seldom|at no offset/,
    );
    const other = recorded(randomFor(77, 'another drive'), { seconds: 100, offsetS: 0 });
    expect(reason(reference, other.signal)).toMatch(/not alike|too seldom/);
  });

  test('unrelated drives are hardly ever taken for one', () => {
    let wrong = 0;
    for (let seed = 1; seed <= 20; seed++) {
      const a = recorded(randomFor(seed, 'one drive'), { seconds: 300, offsetS: 0, stepS: 0.5 }).reference;
      const b = recorded(randomFor(seed, 'the other'), { seconds: 300, offsetS: 0 }).signal;
      const result = alignReference(a, b);
      if (!('reason' in result) && result.rivals.length === 0) wrong++;
    }
    expect(wrong).toBeLessThanOrEqual(1);
  }, 60_000);
});
