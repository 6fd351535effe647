import { describe, expect, test } from 'vitest';
import { timingOf } from '../../src/findings/timing.ts';
import { random } from './traffic.ts';

function times(count: number, next: (i: number) => number): Float64Array {
  const out = new Float64Array(count);
  for (let i = 1, t = 0; i < count; i++) out[i] = t += next(i);
  return out;
}

function timing(time: Float64Array, begins: number[] = [0]) {
  const marks = new Uint8Array(time.length);
  for (const i of begins) marks[i] = 1;
  return timingOf(time, marks);
}

describe('a periodic message', () => {
  test('has the period of its sender, not of its gaps, when stamps come late', () => {
    const dice = random(4);
    const time = Float64Array.from({ length: 500 }, (_, i) => 0.0200123 * i + 0.003 * dice() ** 4);
    const { timing: kind, periodMs } = timing(time);
    expect(kind).toBe('periodic');
    expect(periodMs).toBeCloseTo(20.0123, 2);
  });

  test('stays periodic with every tenth frame lost', () => {
    const dice = random(5);
    const time = times(400, () => (dice() < 0.1 ? 0.02 : 0.01));
    expect(timing(time)).toMatchObject({ timing: 'periodic' });
    expect(timing(time).periodMs).toBeCloseTo(10, 1);
  });

  test('has a jitter that is the standard deviation of its gaps, whatever a few outliers do', () => {
    const dice = random(6);
    // Sum of twelve uniform numbers: near enough to normal, deviation 1 ms.
    const normal = () => Array.from({ length: 12 }, dice).reduce((a, b) => a + b, -6);
    const time = times(2000, (i) => (i % 400 === 0 ? 0.4 : 0.02 + 0.001 * normal()));
    expect(timing(time).jitterMs).toBeCloseTo(1, 1);
  });

  test('is not disturbed by a clock that jumps back where a second recording begins', () => {
    const one = times(100, () => 0.05);
    const both = new Float64Array(200);
    both.set(one);
    both.set(one, 100);
    expect(timing(both, [0, 100])).toMatchObject({ timing: 'periodic' });
    expect(timing(both, [0, 100]).periodMs).toBeCloseTo(50, 6);
  });
});

test('a message sent in bursts has the period of its bursts', () => {
  const time = times(600, (i) => (i % 4 === 0 ? 0.997 : 0.001));
  const result = timing(time);
  expect(result.timing).toBe('burst');
  expect(result.periodMs).toBeCloseTo(1000, 1);
});

test('a message that is periodic with frames on change in between is mixed', () => {
  const dice = random(7);
  const time = times(400, () => (dice() < 0.6 ? 0.1 : 0.1 * dice()));
  expect(timing(time).timing).toBe('mixed');
});

test('a message without rhythm is sent on change and has no period', () => {
  const dice = random(8);
  const result = timing(times(200, () => -Math.log(1 - dice())));
  expect(result).toMatchObject({ timing: 'onChange', periodMs: null });
});

test('five frames are too few to say how a message is sent', () => {
  expect(timing(times(5, () => 0.01))).toEqual({
    periodMs: null,
    jitterMs: null,
    timing: 'tooFew',
    missing: null,
    outages: [],
  });
  expect(timing(new Float64Array(0), [])).toEqual({
    periodMs: null,
    jitterMs: null,
    timing: 'tooFew',
    missing: null,
    outages: [],
  });
});

test('frames that all carry the same stamp have no period', () => {
  const result = timing(new Float64Array(50));
  expect(result.periodMs).toBeNull();
});

test('lost frames are counted, a restart is told apart from them', () => {
  const time = Float64Array.from(
    Array.from({ length: 300 }, (_, i) => 0.02 * i).filter((_, i) => i % 50 !== 7 && !(i > 200 && i < 250)),
  );
  const { missing, outages } = timing(time);
  expect(missing).toBe(5);
  expect(outages).toHaveLength(1);
  expect(outages[0]?.fromS).toBeCloseTo(4, 6);
  expect(outages[0]?.toS).toBeCloseTo(5, 6);
});

test('nothing is counted as missing where a second recording begins, nor without a period', () => {
  const both = Float64Array.from({ length: 200 }, (_, i) => 0.05 * i + (i >= 100 ? 3 : 0));
  expect(timing(both, [0, 100])).toMatchObject({ missing: 0, outages: [] });
  const dice = random(9);
  expect(timing(times(200, () => -Math.log(1 - dice())))).toMatchObject({ missing: null, outages: [] });
});
