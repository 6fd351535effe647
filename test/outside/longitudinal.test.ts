/** Unwanted braking and drive against worked values of uniformly accelerated motion (computed table V3.5). */
import { expect, test } from 'vitest';
import { driveDistanceM, gapLossM } from '../../src/guard/budget/longitudinal.ts';

/** The driver behind does nothing until then, and is no faster from then on. */
const inert = { speedMps: 30, followerDecelerationMps2: 1e12 };

test('3.5 m/s² for 0.5 s brings a follower who is inert for 1.5 s nearer by 2.1875 m, at 1.75 m/s', () => {
  // V3.5: aT²/2 + aT(t − T); 3.5 m/s² is the mean deceleration of ISO 15622:2018, 6.4 above 20 m/s (from memory).
  const braking = { ...inert, decelerationMps2: 3.5, lastsS: 0.5 };
  expect(gapLossM({ ...braking, followerReactionS: 1.5 })).toBeCloseTo(2.1875, 6);
  const later = gapLossM({ ...braking, followerReactionS: 1.6 });
  expect((later - gapLossM({ ...braking, followerReactionS: 1.5 })) / 0.1).toBeCloseTo(1.75, 6);
});

test('9 m/s² for 0.3 s brings him nearer by 3.645 m', () => {
  // V3.5.
  const braking = { ...inert, decelerationMps2: 9, lastsS: 0.3, followerReactionS: 1.5 };
  expect(gapLossM(braking)).toBeCloseTo(3.645, 6);
});

test('where both brake alike to a stop, the gap that is needed is speed × reaction time', () => {
  // V3.5: 30 m/s, 1 s → 30 m.
  const braking = { speedMps: 30, decelerationMps2: 6, lastsS: 60, followerReactionS: 1 };
  expect(gapLossM({ ...braking, followerDecelerationMps2: 6 })).toBeCloseTo(30, 9);
});

test('3 m/s² of unwanted drive, braked with 6 m/s², adds 2.25 m after 1.0 s of reaction and 5.0625 m after 1.5 s', () => {
  // V3.5.
  expect(driveDistanceM(3, 1, 6)).toBeCloseTo(2.25, 12);
  expect(driveDistanceM(3, 1.5, 6)).toBeCloseTo(5.0625, 12);
});
