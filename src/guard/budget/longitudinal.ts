/**
 * Budget for braking and drive: what unwanted braking does to the car behind, and unwanted drive to speed and way, until the
 * driver has the car back. Own derivation: uniformly accelerated motion in pieces; checked against worked values.
 */
import { largestBelow } from './runaway.ts';

/** Unwanted braking with a car behind. */
export interface BrakingRunaway {
  /** Speed of both cars before it, m/s. */
  speedMps: number;
  /** Deceleration, m/s² ≥ 0, and how long it lasts, s. */
  decelerationMps2: number;
  lastsS: number;
  /** After this time the driver behind brakes, s, with this deceleration, m/s². */
  followerReactionS: number;
  followerDecelerationMps2: number;
}

/**
 * By how much the gap to the car behind shrinks at most, m: the car behind keeps its speed for its driver's reaction time,
 * then brakes until it is no faster. A car that stands stays standing while it brakes.
 */
export function gapLossM(r: BrakingRunaway): number {
  // Pieces of constant acceleration: the front car brakes until `lastsS` or standstill, the one behind from its reaction on.
  const braked = Math.min(r.lastsS, r.decelerationMps2 > 0 ? r.speedMps / r.decelerationMps2 : r.lastsS);
  const times = [...new Set([braked, r.followerReactionS])].sort((a, b) => a - b);
  let [at, lost, closing] = [0, 0, 0];
  for (const end of [...times, Number.POSITIVE_INFINITY]) {
    const front = at < braked ? r.decelerationMps2 : 0;
    const behind = at >= r.followerReactionS ? r.followerDecelerationMps2 : 0;
    const rate = front - behind;
    const stops = rate < 0 ? at + closing / -rate : Number.POSITIVE_INFINITY;
    const until = Math.min(end, stops);
    if (!Number.isFinite(until)) return closing > 0 ? Number.POSITIVE_INFINITY : lost;
    const dt = until - at;
    lost += closing * dt + (rate * dt * dt) / 2;
    closing += rate * dt;
    at = until;
    if (stops <= end && at >= r.followerReactionS) return lost;
  }
  return lost;
}

/** Largest deceleration, m/s², at most `most`, with which the gap shrinks by no more than `gapM`. */
export function brakingAllowance(
  gapM: number,
  r: Omit<BrakingRunaway, 'decelerationMps2'>,
  most: number,
): number {
  return largestBelow((decelerationMps2) => gapLossM({ ...r, decelerationMps2 }) <= gapM, most);
}

/** Way that unwanted drive of `a` m/s² adds until it is braked away, m: a·t²/2 + (a·t)²/(2b). */
export function driveDistanceM(a: number, reactionS: number, brakingMps2: number): number {
  return (a * reactionS ** 2) / 2 + (a * reactionS) ** 2 / (2 * brakingMps2);
}

/** Largest acceleration, m/s², that adds at most this much speed (m/s) and way (m) until it is braked away. */
export function driveAllowance(bounds: {
  reactionS: number;
  brakingMps2: number;
  speedGainMps: number;
  distanceM: number;
}): number {
  const { reactionS, brakingMps2, speedGainMps, distanceM } = bounds;
  return largestBelow(
    (a) => driveDistanceM(a, reactionS, brakingMps2) <= distanceM,
    speedGainMps / reactionS,
  );
}
