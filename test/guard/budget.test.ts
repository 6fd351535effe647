import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { lateralAccelerationGain } from '../../src/car/index.ts';
import { tableAt } from '../../src/guard/budget/interpolate.ts';
import { checkTables, toBudgetForm } from '../../src/guard/budget/margin.ts';
import { simulateRunaway, stepExcursionM } from '../../src/guard/budget/runaway.ts';
import { LEVEL_END_DEG, steeringBudgetAt } from '../../src/guard/budget/steering.ts';
import { sampleHost, samplePlan } from './plan.ts';

const host = sampleHost();
const { budget: bounds } = samplePlan();
const toWheel = (host.steeringRatio * 180) / Math.PI;

describe('the budget at one speed', () => {
  test('a runaway to the budget keeps distance, acceleration and mean jerk within their bounds', () => {
    for (let speedMps = 1; speedMps <= 30; speedMps += 0.5) {
      const { levelDeg, slewDegPerS } = steeringBudgetAt(host, bounds, speedMps);
      const outcome = simulateRunaway(host, speedMps, {
        levelRad: levelDeg / toWheel,
        slewRadps: slewDegPerS / toWheel,
        timeS: bounds.reactionTimeS,
      });
      expect(outcome.excursionM).toBeLessThanOrEqual(bounds.lateralDistanceM);
      expect(outcome.accelerationMps2).toBeLessThanOrEqual(bounds.lateralAccelerationMps2);
      expect(outcome.meanJerkMps3).toBeLessThanOrEqual(bounds.lateralJerkMps3);
    }
  });

  test('ten per cent more than the budget breaks a bound, by the closed form or by the simulation', () => {
    for (let speedMps = 4; speedMps <= 30; speedMps += 2) {
      const { levelDeg, slewDegPerS } = steeringBudgetAt(host, bounds, speedMps);
      const gain = lateralAccelerationGain(host, speedMps);
      const more = (1.1 * levelDeg) / toWheel;
      // The runaway starts in the bend that the level holds and goes to the level of the other side.
      const level = stepExcursionM(2 * more * gain, bounds.reactionTimeS) > bounds.lateralDistanceM;
      expect(level || more * gain > bounds.lateralAccelerationMps2, `level at ${speedMps} m/s`).toBe(true);
      const run = simulateRunaway(host, speedMps, {
        // From the bend that the level holds to the level of the other side.
        levelRad: (2 * levelDeg) / toWheel,
        slewRadps: (1.1 * slewDegPerS) / toWheel,
        timeS: bounds.reactionTimeS,
      });
      const rate = ((1.1 * slewDegPerS) / toWheel) * gain > bounds.lateralJerkMps3;
      expect(rate || run.meanJerkMps3 > bounds.lateralJerkMps3, `slew at ${speedMps} m/s`).toBe(true);
    }
  });

  test('counted from straight ahead the level is about twice as large as out of any bend', () => {
    const straight = steeringBudgetAt(host, { ...bounds, bendAccelerationMps2: 0 }, 12);
    const any = steeringBudgetAt(host, bounds, 12);
    expect(straight.levelDeg / any.levelDeg).toBeCloseTo(2, 1);
    const between = steeringBudgetAt(host, { ...bounds, bendAccelerationMps2: 0.3 }, 12);
    expect(between.levelDeg).toBeGreaterThan(any.levelDeg);
    expect(between.levelDeg).toBeLessThan(straight.levelDeg);
  });

  test('a slippery road and another load lower the budget, and the least of all counts', () => {
    const wet = { name: 'wet grass', grip: 0.15 };
    const full = { name: 'full load', massKg: 2600, cgToFrontM: 1.5 };
    const plain = steeringBudgetAt(host, bounds, 12);
    const onWet = steeringBudgetAt(host, { ...bounds, variants: [wet] }, 12);
    const both = steeringBudgetAt(host, { ...bounds, variants: [wet, full] }, 12);
    expect(onWet.levelDeg).toBeLessThan(plain.levelDeg);
    expect(both.levelDeg).toBeLessThanOrEqual(onWet.levelDeg);
  });

  test('more time for the driver, or less room, never makes the budget larger', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 1.5, max: 30, noNaN: true }),
        fc.double({ min: 0.6, max: 2, noNaN: true }),
        fc.double({ min: 0.2, max: 1, noNaN: true }),
        (speedMps, reactionTimeS, lateralDistanceM) => {
          const now = steeringBudgetAt(host, { ...bounds, reactionTimeS, lateralDistanceM }, speedMps);
          const slower = steeringBudgetAt(
            host,
            { ...bounds, reactionTimeS: reactionTimeS + 0.5, lateralDistanceM },
            speedMps,
          );
          const closer = steeringBudgetAt(
            host,
            { ...bounds, reactionTimeS, lateralDistanceM: lateralDistanceM / 2 },
            speedMps,
          );
          expect(slower.levelDeg).toBeLessThanOrEqual(now.levelDeg + 1e-6);
          expect(closer.levelDeg).toBeLessThanOrEqual(now.levelDeg + 1e-6);
        },
      ),
      { numRuns: 60, seed: 20261125 },
    );
  });

  test('time until the guard itself detects a runaway counts like time until the driver reacts', () => {
    const split = steeringBudgetAt(host, { ...bounds, reactionTimeS: 0.8, detectionTimeS: 0.4 }, 12);
    expect(split).toEqual(steeringBudgetAt(host, { ...bounds, reactionTimeS: 1.2, detectionTimeS: 0 }, 12));
  });

  test('at standstill vehicle dynamics set no bound, and above the critical speed there is no budget', () => {
    expect(steeringBudgetAt(host, bounds, 0).levelDeg).toBe(LEVEL_END_DEG);
    const oversteering = { ...host, rearStiffnessNPerRad: 60_000 };
    expect(() => steeringBudgetAt(oversteering, bounds, 30)).toThrow(/30\.0 m\/s.*does not run straight/);
  });
});

describe('tables over budget', () => {
  test('a table inside the budget has a margin, and the margin is that of the tightest speed', () => {
    const check = checkTables(samplePlan(), host).channels[0]!;
    expect(check.leastMargin).toBe(Math.min(...check.rows.map((r) => r.margin)));
    expect(check.levelOverFromMps === null).toBe(check.rows.every((r) => r.level <= r.levelMax));
  });

  test('a table that bulges over the budget between two points inside it is caught, with the speed', () => {
    const plan = samplePlan();
    const at = (v: number) => steeringBudgetAt(host, plan.budget, v).levelDeg;
    // The budget falls steeply and then flattens: a straight line between two of its points runs above it.
    plan.steering.level = [
      { speedMps: 5, angleDeg: 0.99 * at(5) },
      { speedMps: 20, angleDeg: 0.99 * at(20) },
    ];
    const check = checkTables(plan, host).channels[0]!;
    expect(check.levelOverFromMps).toBeGreaterThan(5);
    expect(check.levelOverFromMps).toBeLessThan(8);
    expect(check.leastMargin).toBeLessThan(0);
  });

  test('between points a table is linear, before and after them it is held', () => {
    const points = [
      [2, 10],
      [4, 20],
    ] as const;
    expect([0, 2, 3, 4, 9].map((x) => tableAt(points, x))).toEqual([10, 10, 15, 20, 20]);
  });

  test('the form budget/1 carries the same rows', () => {
    const check = checkTables(samplePlan(), host);
    const form = toBudgetForm(check);
    expect(form.form).toBe('budget/1');
    expect(form.channels[0]!.rows).toEqual(check.channels[0]!.rows);
    expect(form.channels[0]).toMatchObject({ channel: 'steering', unit: '°', rateUnit: '°/s' });
  });
});
