/**
 * Budget for steering: over speed, the largest level and slew with which a runaway stays within the chosen lateral
 * distance, acceleration and jerk until the driver has the car back. Sources of the bounds: ISO 11270:2014, 5.4
 * (3 m/s², 5 m/s³ as a mean over 0.5 s); reaction time and distance are the build's own choice.
 */
import type { Host } from '../../car/model.ts';
import { isStable, lateralAccelerationGain } from '../../car/steady.ts';
import { LogicError } from '../../logic/error.ts';
import type { GuardPlan } from '../model.ts';
import { COUNTER_MPS2, largestBelow, simulateRunaway, stepExcursionM } from './runaway.ts';

export type Bounds = GuardPlan['budget'];

export interface SteeringBudget {
  speedMps: number;
  /** Largest angle either side, degrees at the steering wheel; at most `LEVEL_END_DEG`. */
  levelDeg: number;
  /** Fastest change, degrees per second at the steering wheel; at most `SLEW_END_DEG_PER_S`. */
  slewDegPerS: number;
}

/** Beyond these a table cannot go (channels/schema.ts), so the budget need not. */
export const LEVEL_END_DEG = 2000;
export const SLEW_END_DEG_PER_S = 5000;
/** Below this speed the model of slipping tyres adds nothing to plain geometry, and its equations stiffen. */
const SIMULATED_FROM_MPS = 1;
const DEG = 180 / Math.PI;
/** Acceleration of free fall, m/s²: standard value. */
const GRAVITY_MPS2 = 9.80665;

/**
 * Budget at one speed: the least over the car as it is and its variants. The runaway starts in any bend that the level
 * itself could hold, or, where `bend_acceleration_mps2` is given, in one of at most that lateral acceleration, and goes to
 * the level of the other side; the way aside is counted from the bend. With a band around the path of the road
 * (`withinDeg` to either side) it goes from one edge of the band to the other at most. Level: lateral acceleration in a steady turn within
 * its bound, and the excursion within the distance even if the change came at once, both by closed form
 * (`stepExcursionM`) and by simulation. Slew: steady gain × rate within the jerk bound, which holds for any level; then
 * lowered until the simulated runaway to the budget's level keeps acceleration and jerk within their bounds on the way.
 * Tyres stay linear in it, which overstates how far a runaway goes; a variant's grip bounds how hard the driver can steer back.
 * @throws LogicError where the car does not run straight by itself at this speed (above its critical speed).
 */
export function steeringBudgetAt(
  host: Host,
  bounds: Bounds,
  speedMps: number,
  withinDeg = Number.POSITIVE_INFINITY,
): SteeringBudget {
  return cars(host, bounds)
    .map((car) => budgetOf(car, bounds, speedMps, withinDeg))
    .reduce((a, b) => ({
      speedMps,
      levelDeg: Math.min(a.levelDeg, b.levelDeg),
      slewDegPerS: Math.min(a.slewDegPerS, b.slewDegPerS),
    }));
}

/** The car with one load and one grip. */
interface Car {
  name: string;
  host: Host;
  /** Lateral acceleration with which the driver can steer back, m/s². */
  counterMps2: number;
}

function cars(host: Host, bounds: Bounds): Car[] {
  return [
    { name: 'as driven', host, counterMps2: COUNTER_MPS2 },
    ...bounds.variants.map(({ name, massKg, cgToFrontM, grip }) => ({
      name,
      host: {
        ...host,
        massKg: massKg ?? host.massKg,
        // About the axle distances the load moves the inertia as it moves the mass: common practice, no source.
        yawInertiaKgm2: host.yawInertiaKgm2 * ((massKg ?? host.massKg) / host.massKg),
        cgToFrontM: cgToFrontM ?? host.cgToFrontM,
      },
      counterMps2: Math.min(COUNTER_MPS2, grip === undefined ? COUNTER_MPS2 : grip * GRAVITY_MPS2),
    })),
  ];
}

function budgetOf(car: Car, bounds: Bounds, speedMps: number, withinDeg: number): SteeringBudget {
  const { host, counterMps2 } = car;
  if (!isStable(host, speedMps)) {
    throw new LogicError(
      `no budget at ${speedMps.toFixed(1)} m/s: with the host figures (${car.name}) the car does not run straight by itself there; ` +
        'check the cornering stiffnesses and the centre of gravity',
    );
  }
  const gain = lateralAccelerationGain(host, speedMps);
  const timeS = bounds.reactionTimeS + bounds.detectionTimeS;
  const toWheel = host.steeringRatio * DEG;
  if (gain === 0) return { speedMps, levelDeg: LEVEL_END_DEG, slewDegPerS: SLEW_END_DEG_PER_S };
  const slewMost = Math.min(SLEW_END_DEG_PER_S, (bounds.lateralJerkMps3 / gain) * toWheel);
  const accelerationMost = (bounds.lateralAccelerationMps2 / gain) * toWheel;
  /** Change of angle from the bend to the level of the other side, or across the band. */
  const change = (levelDeg: number) =>
    Math.min(
      2 * withinDeg,
      levelDeg + Math.min(levelDeg, ((bounds.bendAccelerationMps2 ?? Infinity) / gain) * toWheel),
    );
  const atOnce = (levelDeg: number) =>
    stepExcursionM((change(levelDeg) / toWheel) * gain, timeS, counterMps2) <= bounds.lateralDistanceM;
  const levelMost = largestBelow(atOnce, Math.min(LEVEL_END_DEG, accelerationMost));
  if (speedMps < SIMULATED_FROM_MPS) return { speedMps, levelDeg: levelMost, slewDegPerS: slewMost };
  const outcome = (angleDeg: number, slewDegPerS: number) =>
    simulateRunaway(
      host,
      speedMps,
      { levelRad: angleDeg / toWheel, slewRadps: slewDegPerS / toWheel, timeS },
      counterMps2,
    );
  const levelDeg = largestBelow(
    (level) => outcome(change(level), slewMost).excursionM <= bounds.lateralDistanceM,
    levelMost,
  );
  const slewDegPerS = largestBelow((slew) => {
    const { meanJerkMps3 } = outcome(change(levelDeg), slew);
    const { accelerationMps2 } = outcome(levelDeg, slew);
    return accelerationMps2 <= bounds.lateralAccelerationMps2 && meanJerkMps3 <= bounds.lateralJerkMps3;
  }, slewMost);
  return { speedMps, levelDeg, slewDegPerS };
}
