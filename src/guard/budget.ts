/**
 * The budget: over speed, the largest level and slew of the ordered steering-wheel angle with which a runaway from
 * straight ahead stays within the chosen lateral distance, lateral acceleration and jerk until the driver has the car
 * back. Sources of the bounds: ISO 11270:2014, 5.4 (3 m/s², 5 m/s³ as a mean over 0.5 s); reaction time and distance
 * are the build's own choice. It does not count a runaway out of a bend, tyres beyond their linear range, or other traffic.
 */
import type { Host } from '../car/model.ts';
import { isStable, lateralAccelerationGain } from '../car/steady.ts';
import { LogicError } from '../logic/error.ts';
import type { GuardPlan } from './model.ts';
import { largestBelow, simulateRunaway, stepAllowance } from './runaway.ts';

export type Bounds = GuardPlan['budget'];

export interface Budget {
  speedMps: number;
  /** Largest angle either side, degrees at the steering wheel; at most `LEVEL_END_DEG`. */
  levelDeg: number;
  /** Fastest change, degrees per second at the steering wheel; at most `SLEW_END_DEG_PER_S`. */
  slewDegPerS: number;
}

/** Beyond these a table cannot go (guard/schema.ts), so the budget need not. */
export const LEVEL_END_DEG = 2000;
export const SLEW_END_DEG_PER_S = 5000;
/** Below this speed the model of slipping tyres adds nothing to plain geometry, and its equations stiffen. */
const SIMULATED_FROM_MPS = 1;
const DEG = 180 / Math.PI;

/**
 * Budget at one speed. Level: lateral acceleration in a steady turn within its bound, and the excursion within the
 * distance even if the level came at once, both by closed form (`stepAllowance`) and by simulation of the runaway. Slew:
 * steady gain × rate within the jerk bound, which holds for any level; then lowered until the simulated runaway to the
 * budget's level keeps acceleration and jerk within their bounds on the way, too.
 * @throws LogicError where the car does not run straight by itself at this speed (above its critical speed).
 */
export function budgetAt(host: Host, bounds: Bounds, speedMps: number): Budget {
  if (!isStable(host, speedMps)) {
    throw new LogicError(
      `no budget at ${speedMps.toFixed(1)} m/s: with these host figures the car does not run straight by itself there; ` +
        'check the cornering stiffnesses and the centre of gravity',
    );
  }
  const gain = lateralAccelerationGain(host, speedMps);
  const timeS = bounds.reactionTimeS + bounds.detectionTimeS;
  const toWheel = host.steeringRatio * DEG;
  if (gain === 0) return { speedMps, levelDeg: LEVEL_END_DEG, slewDegPerS: SLEW_END_DEG_PER_S };
  const slewMost = Math.min(SLEW_END_DEG_PER_S, (bounds.lateralJerkMps3 / gain) * toWheel);
  const allowed = Math.min(bounds.lateralAccelerationMps2, stepAllowance(bounds.lateralDistanceM, timeS));
  const levelMost = Math.min(LEVEL_END_DEG, (allowed / gain) * toWheel);
  if (speedMps < SIMULATED_FROM_MPS) return { speedMps, levelDeg: levelMost, slewDegPerS: slewMost };
  const outcome = (levelDeg: number, slewDegPerS: number) =>
    simulateRunaway(host, speedMps, {
      levelRad: levelDeg / toWheel,
      slewRadps: slewDegPerS / toWheel,
      timeS,
    });
  const levelDeg = largestBelow(
    (level) => outcome(level, slewMost).excursionM <= bounds.lateralDistanceM,
    levelMost,
  );
  const slewDegPerS = largestBelow((slew) => {
    const { accelerationMps2, meanJerkMps3 } = outcome(levelDeg, slew);
    return accelerationMps2 <= bounds.lateralAccelerationMps2 && meanJerkMps3 <= bounds.lateralJerkMps3;
  }, slewMost);
  return { speedMps, levelDeg, slewDegPerS };
}
