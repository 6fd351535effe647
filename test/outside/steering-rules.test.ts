/** Bounds and times of UN R79 (steering equipment, Revision 4, 03 series) and ISO 11270:2014 that a guard can be held to. */
import { expect, test } from 'vitest';
import { type AttentionLadder, R171, rungTimes } from '../../src/guard/attention.ts';
import { guardFigures } from '../../src/guard/figures.ts';
import { guardProgram } from '../../src/guard/program/guard.ts';
import { budgetSchema } from '../../src/guard/schema.ts';
import { Drive } from '../guard/drive.ts';
import { samplePlan } from '../guard/plan.ts';

test('no declared lateral acceleration of the regulation is above what a budget may ask for, and none in a band is below', () => {
  // UN R79, 5.6.2.1.3, Table 1: M1 and N1, 10–60, > 60–100, > 100–130, > 130 km/h: at most 3 m/s²; 2.5 m/s² for heavier ones.
  const { lateral_acceleration_mps2: most } = budgetSchema.shape;
  for (const declared of [0.3, 0.5, 0.8, 2.5, 3]) expect(most.parse(declared)).toBe(declared);
  expect(most.safeParse(3.0001).success).toBe(false);
});

test('the half-second mean of lateral jerk is at most 5 m/s³', () => {
  // UN R79, 5.6.2.1.3 and Annex 8, 3.2.1; ISO 11270:2014, 5.4.
  const { lateral_jerk_mps3: most } = budgetSchema.shape;
  expect(most.parse(undefined)).toBe(5);
  expect(most.safeParse(5.0001).success).toBe(false);
});

test('hands off: a sign within 15 s, red and acoustic within 30 s, off within 30 s after that', () => {
  // UN R79, 5.6.2.2.5.
  const ladder: AttentionLadder = {
    ...R171.hands,
    promptAfterS: 15,
    graceS: 0,
    escalateAfterS: 15,
    unavailableAfterS: 30,
  };
  expect(rungTimes(ladder)).toEqual([
    ['prompt', 15],
    ['escalated', 30],
    ['unavailable', 60],
  ]);
});

test('on going to stand-by the action is faded out and never cut', () => {
  // ISO 11270:2014, 5.4. The fade takes equal steps of at most half as much again as an even one over the release time.
  const figures = guardFigures(samplePlan(), 10);
  const drive = new Drive(guardProgram(figures), figures);
  drive.arm({ speed: 0 });
  drive.run(200, { speed: 0, steering_command: 9000 });
  let before = drive.run(1, { speed: 0, steering_command: 9000 }).order;
  expect(before).toBe(9000);
  const even = before / figures.releaseSteps;
  for (let step = 1; step <= figures.releaseSteps; step++) {
    const { order } = drive.run(1, { speed: 0, request: 0 });
    expect(before - order).toBeLessThanOrEqual(1.5 * even + 1);
    if (step < figures.releaseSteps / 2) expect(order).toBeGreaterThan(0);
    before = order;
  }
  expect(before).toBe(0);
});
