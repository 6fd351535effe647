import { expect, test } from 'vitest';
import { simulateRunaway } from '../../src/guard/budget/runaway.ts';
import { steeringBudgetAt } from '../../src/guard/budget/steering.ts';
import { guardSchema } from '../../src/guard/schema.ts';
import { sampleHost, samplePlan } from '../guard/plan.ts';

const budget = guardSchema.shape.budget;
const asked = { reaction_time_s: 1, lateral_distance_m: 0.85, speed_max_mps: 30 };

test('a lane-keeping system may use at most 3 m/s² and, as a mean over 0.5 s, 5 m/s³; both are the defaults and the ends', () => {
  // ISO 11270:2014, 5.4: lateral acceleration ≤ 3 m/s²; half-second moving average of lateral jerk ≤ 5 m/s³.
  expect(budget.parse(asked)).toMatchObject({ lateral_acceleration_mps2: 3, lateral_jerk_mps3: 5 });
  expect(budget.safeParse({ ...asked, lateral_acceleration_mps2: 3.01 }).success).toBe(false);
  expect(budget.safeParse({ ...asked, lateral_jerk_mps3: 5.01 }).success).toBe(false);
});

test('a runaway inside the budget stays within both bounds over the speeds that the standard names', () => {
  // ISO 11270:2014, 5.1: speed range 20–30 m/s; bounds as above, 5.4. Room without end, so that they alone decide.
  const host = sampleHost();
  // The standard bounds what the system itself does, so the runaway is counted from straight ahead.
  const bounds = {
    ...samplePlan().budget,
    bendAccelerationMps2: 0,
    lateralDistanceM: 5,
    reactionTimeS: 1.2,
  };
  const toWheel = (host.steeringRatio * 180) / Math.PI;
  for (let speedMps = 20; speedMps <= 30; speedMps++) {
    const { levelDeg, slewDegPerS } = steeringBudgetAt(host, bounds, speedMps);
    const run = simulateRunaway(host, speedMps, {
      levelRad: levelDeg / toWheel,
      slewRadps: slewDegPerS / toWheel,
      timeS: 1.2,
    });
    expect(run.accelerationMps2).toBeLessThanOrEqual(3);
    expect(run.accelerationMps2).toBeGreaterThan(2.5);
    expect(run.meanJerkMps3).toBeLessThanOrEqual(5);
  }
});
