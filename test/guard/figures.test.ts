import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { fadeLadder, guardFigures } from '../../src/guard/figures.ts';
import { specFigures } from '../../src/guard/obligations/index.ts';
import { samplePlan } from './plan.ts';

const SEED = 20_261_125;

describe(`random plans (seed ${SEED})`, () => {
  const number = (min: number, max: number) =>
    fc.integer({ min: Math.round(min * 1000), max: Math.round(max * 1000) }).map((n) => n / 1000);
  const plans = fc
    .record({
      levels: fc.array(fc.tuple(number(0, 100), number(0, 2000)), { minLength: 2, maxLength: 16 }),
      rates: fc.array(fc.tuple(number(0, 100), number(0, 5000)), { minLength: 2, maxLength: 16 }),
      times: fc.array(number(1, 3000), { minLength: 5, maxLength: 5 }),
      torque: number(0.001, 50),
      angle: number(0.001, 90),
      speed: number(0.1, 70),
    })
    .map(({ levels, rates, times, torque, angle, speed }) => {
      const plan = samplePlan();
      plan.steering.level = levels.map(([speedMps, angleDeg]) => ({ speedMps, angleDeg }));
      plan.steering.slew = rates.map(([speedMps, rateDegPerS]) => ({ speedMps, rateDegPerS }));
      const [commandAgeMs, sensorAgeMs, releaseMs, overrideMs, armHoldMs] = times as [
        number,
        number,
        number,
        number,
        number,
      ];
      Object.assign(plan.handover, { commandAgeMs, sensorAgeMs, releaseMs, armHoldMs });
      plan.handover.driverTorque!.atNm = torque;
      plan.handover.driverTorque!.forMs = overrideMs;
      plan.steering.armAngleDeg = angle;
      plan.budget.speedMaxMps = speed;
      return plan;
    });
  const stepMs = fc.integer({ min: 1, max: 100 });

  test('guard and specification read every plan alike, though each rounds for itself', () => {
    fc.assert(
      fc.property(plans, stepMs, (plan, ms) => {
        expect(specFigures(plan, ms)).toEqual(guardFigures(plan, ms));
      }),
      { seed: SEED, numRuns: 500 },
    );
  });

  test('every figure lies on the cautious side of the plan', () => {
    fc.assert(
      fc.property(plans, stepMs, (plan, ms) => {
        const f = guardFigures(plan, ms);
        const s = plan.steering;
        const h = plan.handover;
        const steering = f.channels[0]!;
        steering.level.forEach(([, y], i) => {
          expect(y / 100).toBeLessThanOrEqual(s.level[i]!.angleDeg + 1e-6);
        });
        steering.slew.forEach(([, y], i) => {
          expect((y / 100 / f.spacingMinMs) * 1000).toBeLessThanOrEqual(s.slew[i]!.rateDegPerS + 1e-6);
        });
        const slowest = f.spacingMaxMs;
        if (h.releaseMs >= slowest) expect(f.releaseSteps * slowest).toBeLessThanOrEqual(h.releaseMs + 1e-6);
        if (h.driverTorque!.forMs >= slowest)
          expect(f.torque!.steps * slowest).toBeLessThanOrEqual(h.driverTorque!.forMs + 1e-6);
        if (h.commandAgeMs >= 2 * slowest)
          expect((Math.min(f.commandAgeSteps, 1000) + 2) * slowest).toBeLessThanOrEqual(
            h.commandAgeMs + 1e-6,
          );
        expect((f.armHoldSteps - 1) * f.spacingMinMs).toBeGreaterThanOrEqual(h.armHoldMs - 1e-6);
      }),
      { seed: SEED, numRuns: 500 },
    );
  });
});

test('the ladder of release steps reaches every level in time and is at most half too steep', () => {
  fc.assert(
    fc.property(
      fc.integer({ min: 1, max: 200_000 }),
      fc.integer({ min: 1, max: 2000 }),
      (levelMax, releaseSteps) => {
        const ladder = fadeLadder(levelMax, releaseSteps);
        expect(ladder.at(-1)! * releaseSteps).toBeGreaterThanOrEqual(levelMax);
        for (const order of [1, Math.ceil(levelMax / 3), levelMax]) {
          const step = ladder.find((s) => s * releaseSteps >= order)!;
          expect(step).toBeLessThanOrEqual(Math.ceil((1.5 * order) / releaseSteps));
        }
      },
    ),
    { seed: SEED, numRuns: 300 },
  );
});

test('a time of 100 ms counts as at most 8 steps of up to 12 ms, an age of it as 6', () => {
  const f = guardFigures(samplePlan(), 10);
  expect([f.spacingMinMs, f.spacingMaxMs]).toEqual([8, 12]);
  expect(f.torque!.steps).toBe(8);
  expect(f.commandAgeSteps).toBe(6);
  expect(f.channels[0]!.slew[0]).toEqual([0, 96]);
});
