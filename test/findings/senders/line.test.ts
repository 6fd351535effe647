import fc from 'fast-check';
import { expect, test } from 'vitest';
import { phaseLine } from '../../../src/findings/senders/line.ts';
import { wrap } from '../../../src/findings/senders/robust.ts';
import { random } from '../traffic.ts';

const SEARCH = { lengthS: 120, aroundPpm: 0, withinPpm: 300, stampS: 0 };

/** Phases within `g` of a message every 0.1 s that drifts by `ppm`, with noise of `noiseS`. */
function drifting(ppm: number, g: number, noiseS: number, seed: number) {
  const dice = random(seed);
  const time = Float64Array.from({ length: 1200 }, (_, k) => 0.1 * k);
  const phase = time.map((t) => wrap(0.3 * g + ppm * 1e-6 * t + noiseS * (dice() + dice() - 1), g));
  return { time, phase };
}

test('drift is found through phases that wrap many times, within four of its own errors', () => {
  fc.assert(
    fc.property(
      fc.double({ min: -250, max: 250, noNaN: true }),
      fc.constantFrom(0.002, 0.01, 0.1),
      fc.double({ min: 0, max: 3e-4, noNaN: true }),
      fc.nat(1e6),
      (ppm, g, noise, seed) => {
        const { time, phase } = drifting(ppm, g, noise, seed);
        const line = phaseLine(phase, time, g, SEARCH);
        expect(line).not.toBeNull();
        expect(Math.abs((line?.driftPpm as number) - ppm)).toBeLessThan(
          4 * (line?.errorPpm as number) + 0.001,
        );
      },
    ),
    { seed: 11, numRuns: 60 },
  );
});

test('phases at random lie on no line', () => {
  const dice = random(3);
  const { time } = drifting(0, 0.01, 0, 1);
  const line = phaseLine(
    time.map(() => 0.01 * dice() - 0.005),
    time,
    0.01,
    SEARCH,
  );
  expect(line?.coherence).toBeLessThan(0.3);
});

test('fewer than eighteen events give no line', () => {
  const time = Float64Array.from({ length: 17 }, (_, k) => k);
  expect(phaseLine(new Float64Array(17), time, 0.01, SEARCH)).toBeNull();
});
