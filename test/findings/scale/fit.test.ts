import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { fitScale, plausibleFactor } from '../../../src/findings/scale/index.ts';
import { random } from '../traffic.ts';

interface Made {
  scale: number;
  offset: number;
  lagS?: number;
  noise?: number;
  wild?: number;
  bend?: (v: number) => number;
  seconds?: number;
  startS?: number;
}

/** A quantity that swings about, as raw values at 20 ms and as a reference at 100 ms. */
function made({
  scale,
  offset,
  lagS = 0,
  noise = 0,
  wild = 0,
  bend = (v) => v,
  seconds = 200,
  startS = 0,
}: Made) {
  const dice = random(9);
  const course = (t: number) => 500 + 300 * Math.sin(t / 3.1) + 150 * Math.sin(t / 1.3 + 1);
  const timeS = Float64Array.from({ length: seconds * 50 }, (_, i) => startS + i * 0.02);
  const value = timeS.map((t) => Math.round(course(t - startS)));
  const refTime = Float64Array.from({ length: seconds * 10 }, (_, i) => startS + i * 0.1 + 0.013);
  const ref = refTime.map((t) => {
    const v = bend(course(t - startS - lagS)) * scale + offset + noise * (dice() + dice() - 1);
    return dice() < wild ? v + 50 * noise : v;
  });
  return { signal: { timeS, value }, reference: { name: 'gauge', unit: 'km/h', timeS: refTime, value: ref } };
}

describe('scale against a reference', () => {
  test.each([
    [0.01, 0],
    [0.05, -40],
    [1 / 256, 0],
    [0.125, 0],
    [0.036, 0],
  ])('the factor %f and the offset %f are found', (scale, offset) => {
    const { signal, reference } = made({ scale, offset, noise: 2 * scale });
    const fit = fitScale(signal, reference);
    expect(fit.relation).toBe('linear');
    expect(fit.plainScale?.value).toBeCloseTo(scale, 8);
    expect(fit.plainOffset).toBe(offset);
    expect(fit.probability).toBeGreaterThan(0.7);
  });

  test('a lag of the reference is measured, with bounds around it', () => {
    const { signal, reference } = made({ scale: 0.1, offset: 0, lagS: 0.7, noise: 1 });
    const { lagS } = fitScale(signal, reference);
    expect(lagS.value).toBeCloseTo(0.7, 1);
    expect(lagS.low).toBeLessThanOrEqual(0.72);
    expect(lagS.high).toBeGreaterThanOrEqual(0.68);
  });

  test('one sample in ten far off does not move the factor', () => {
    const { signal, reference } = made({ scale: 0.02, offset: 5, noise: 0.1, wild: 0.1 });
    expect(fitScale(signal, reference).plainScale?.value).toBe(0.02);
  });

  test('a factor between the plausible ones stays an interval', () => {
    const { signal, reference } = made({ scale: 0.0137, offset: 0, noise: 0.01 });
    const fit = fitScale(signal, reference, { trueness: 0.001 });
    expect(fit.plainScale).toBeNull();
    expect(fit.scale.low).toBeLessThan(0.0137 * 1.002);
    expect(fit.scale.high).toBeGreaterThan(0.0137 * 0.998);
  });

  test('a bent relation is called monotone and given as a curve', () => {
    const { signal, reference } = made({
      scale: 1,
      offset: 0,
      noise: 0.5,
      bend: (v) => Math.sqrt(Math.max(0, v)) * 30,
    });
    const fit = fitScale(signal, reference);
    expect(fit.relation).toBe('monotone');
    expect(fit.spearman).toBeGreaterThan(0.98);
    expect(fit.curve.length).toBeGreaterThanOrEqual(6);
  });

  test('a drift and a swing do not follow each other, and too short a record says so', () => {
    const { signal, reference } = made({ scale: 1, offset: 0 });
    const drift = { ...reference, value: reference.timeS.map((t) => 20 + t / 50) };
    expect(['none', 'tooLittle']).toContain(fitScale(signal, drift).relation);
    const short = made({ scale: 1, offset: 0, seconds: 1 });
    expect(fitScale(short.signal, short.reference).relation).toBe('tooLittle');
  });

  test('when the clock started makes no difference', () => {
    const plain = made({ scale: 0.1, offset: 0, noise: 1 });
    const fit = fitScale(plain.signal, plain.reference);
    fc.assert(
      fc.property(fc.integer({ min: -100_000, max: 100_000 }), (startS) => {
        const moved = made({ scale: 0.1, offset: 0, noise: 1, startS });
        const other = fitScale(moved.signal, moved.reference);
        expect(other.plainScale?.value).toBe(fit.plainScale?.value);
        expect(Math.abs(other.lagS.value - fit.lagS.value)).toBeLessThan(0.03);
      }),
      { numRuns: 3 },
    );
  });
});

describe('plausible factors', () => {
  test('a wide range holds too many to name one', () => {
    expect(plausibleFactor(0.5, 2)).toBeNull();
    expect(plausibleFactor(0.0995, 0.1004)?.factor).toBe(0.1);
    expect(plausibleFactor(-0.1004, -0.0995)?.factor).toBe(-0.1);
    expect(plausibleFactor(-0.1, 0.1)).toBeNull();
  });

  test('the plainest wins', () => {
    expect(plausibleFactor(0.2495, 0.2505)).toMatchObject({ factor: 0.25 });
    expect(plausibleFactor(0.27775, 0.2778, { unit: 'm/s' })?.why).toBe('1 km/h');
    expect(plausibleFactor(0.27775, 0.2778)).toBeNull();
  });
});
