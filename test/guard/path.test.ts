import { describe, expect, test } from 'vitest';
import { steeringBudgetAt } from '../../src/guard/budget/steering.ts';
import { guardFigures } from '../../src/guard/figures.ts';
import { specFigures } from '../../src/guard/obligations/index.ts';
import { guardPlanProblems } from '../../src/guard/problems/index.ts';
import { guardProgram } from '../../src/guard/program/guard.ts';
import { explore } from '../../src/guard/proof/explore.ts';
import { guardSubject } from '../../src/guard/proof/subject.ts';
import { makeTable, tableValue } from '../../src/logic/table.ts';
import { Drive } from './drive.ts';
import { pathPlan, sampleHost, samplePlan } from './plan.ts';

const figures = guardFigures(pathPlan(), 10);
const program = guardProgram(figures);
const calm = {
  speed: 1000,
  pair_wheel_speed_and_engine_speed_first: 1000,
  pair_wheel_speed_and_engine_speed_second: 1000,
  supply: 12_500,
};
/** 1.5° at 10 m/s, as the guard's own table reads there. */
const WITHIN = tableValue(makeTable('within', figures.channels[0]!.path!.within), 1000);

test('guard and specification read the path alike', () => {
  expect(specFigures(pathPlan(), 10)).toEqual(figures);
});

describe('an order near the path of the road', () => {
  function armed(): Drive {
    const drive = new Drive(program, figures);
    drive.run(800, calm);
    expect(drive.run(5, { ...calm, arm_input: 1 }).mode).toBe('armed');
    return drive;
  }

  test('the table is within a count of what the plan says', () => {
    expect(Math.abs(WITHIN - 150)).toBeLessThanOrEqual(1);
  });

  test('a command beyond the band is followed to its edge, on either side of the path', () => {
    expect(armed().run(300, { ...calm, steering_command: 90_000 }).order).toBe(WITHIN);
    const bend = { ...calm, steering_path: 100, steering_command: -90_000 };
    expect(armed().run(300, bend).order).toBe(100 - WITHIN);
  });

  test('a path that leaps takes the order along no faster than it is followed', () => {
    const drive = armed();
    const before = drive.run(300, { ...calm, steering_command: 90_000 }).order;
    const after = drive.run(1, { ...calm, steering_path: 90_000, steering_command: 90_000 }).order;
    expect(after - before).toBeLessThanOrEqual(figures.channels[0]!.path!.follow);
    expect(after - before).toBeGreaterThan(0);
  });

  test('a lost path trips, and away from the path the guard does not arm', () => {
    expect(armed().run(1, { ...calm, steering_path_age: 1023 })).toMatchObject({
      mode: 'tripped',
      cause: 'steering path lost',
    });
    const drive = new Drive(program, figures);
    drive.run(800, { ...calm, steering_path: WITHIN + 1 });
    expect(drive.run(5, { ...calm, steering_path: WITHIN + 1, arm_input: 1 }).mode).toBe('idle');
  });
});

test('no obligation is broken in 60 000 simulated steps, and the band is reached in them', async () => {
  const subject = guardSubject(program, figures);
  const { broken, met } = await explore(subject, { steps: 60_000, seed: 11 });
  expect(subject.claims.filter((_, i) => broken[i] !== null).map((c) => c.name)).toEqual([]);
  expect(subject.claims.filter((_, i) => met[i]).map((c) => c.name)).toContain('leave.steering-path-lost');
});

test('a guard whose path is followed one count too fast breaks the band', async () => {
  const [steering, ...others] = figures.channels;
  const quick = { ...steering!, path: { ...steering!.path!, follow: steering!.path!.follow + 40 } };
  const subject = guardSubject(guardProgram({ ...figures, channels: [quick, ...others] }), figures);
  const { broken } = await explore(subject, { steps: 60_000, seed: 3 });
  const names = subject.claims.filter((_, i) => broken[i] !== null).map((c) => c.name);
  expect(names.some((name) => name === 'steering.path' || name === 'steering.follow')).toBe(true);
});

test('a narrow band leaves the level to the bound on acceleration alone, a wide one changes nothing', () => {
  const { budget } = samplePlan();
  const free = steeringBudgetAt(sampleHost(), budget, 15);
  const narrow = steeringBudgetAt(sampleHost(), budget, 15, 1);
  expect(narrow.levelDeg).toBeGreaterThan(2 * free.levelDeg);
  expect(steeringBudgetAt(sampleHost(), budget, 15, 1000)).toEqual(free);
});

test('a band that narrows faster than the order can follow is refused', () => {
  const plan = pathPlan();
  if (plan.steering?.by === 'angle') plan.steering.path!.within[0]!.angleDeg = 200;
  const found = guardPlanProblems(plan, sampleHost(), []).map((p) => [p.path, p.weight]);
  expect(found).toContainEqual(['steering.path.within[1]', 'refuse']);
});
