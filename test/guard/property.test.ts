/** Whatever a plan has, its guard is a program that every reader may trust and keeps its own obligations. */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { guardFigures } from '../../src/guard/figures.ts';
import type { GuardPlan } from '../../src/guard/model.ts';
import { specFigures } from '../../src/guard/obligations/index.ts';
import { guardProgram } from '../../src/guard/program/guard.ts';
import { explore } from '../../src/guard/proof/explore.ts';
import { subjectOf } from '../../src/guard/proof/prove.ts';
import { checkProgram } from '../../src/logic/check.ts';
import { fullPlan } from './plan.ts';

const STEPS = 20_000;
const PATIENCE_MS = 300_000;

/** Seven channel combinations times sixteen of what the handover watches. */
const CHANNELS = ['steering', 'braking', 'drive'] as const;
const WATCHES = ['driverTorque', 'driverActs', 'agreement', 'supply'] as const;

function planWith(channels: number, watches: number): GuardPlan {
  const plan: GuardPlan = fullPlan();
  CHANNELS.forEach((key, i) => {
    if ((channels & (1 << i)) === 0) delete plan[key];
  });
  WATCHES.forEach((key, i) => {
    if ((watches & (1 << i)) !== 0) return;
    if (key === 'driverActs' || key === 'agreement') plan.handover[key] = [];
    else delete plan.handover[key];
  });
  return plan;
}

const all = [1, 2, 3, 4, 5, 6, 7].flatMap((channels) =>
  Array.from({ length: 16 }, (_, watches) => [channels, watches] as const),
);

test('every combination of channels and watches builds a program without a fault, from figures that both sides work out alike', () => {
  for (const [channels, watches] of all) {
    const plan = planWith(channels, watches);
    const figures = guardFigures(plan, 10);
    expect(checkProgram(guardProgram(figures))).toEqual([]);
    expect(specFigures(plan, 10)).toEqual(figures);
  }
});

/** Times and tables that a user might write; slew and release are such that the level never falls faster than they can. */
const varied = fc
  .record({
    combination: fc.constantFrom(...all),
    seed: fc.integer({ min: 1, max: 1e6 }),
    commandAgeMs: fc.integer({ min: 24, max: 400 }),
    sensorAgeMs: fc.integer({ min: 24, max: 400 }),
    releaseMs: fc.integer({ min: 20, max: 1500 }),
    armHoldMs: fc.integer({ min: 10, max: 700 }),
    lastMs: fc.integer({ min: 0, max: 200 }),
    angleDeg: fc.integer({ min: 1, max: 90 }),
    pressureBar: fc.integer({ min: 1, max: 120 }),
    pedalPercent: fc.integer({ min: 1, max: 100 }),
    stepMs: fc.constantFrom(5, 10, 20),
  })
  .map((v) => {
    const plan = planWith(...v.combination);
    const h = plan.handover;
    const { commandAgeMs, sensorAgeMs, releaseMs, armHoldMs } = v;
    Object.assign(h, { commandAgeMs, sensorAgeMs, releaseMs, armHoldMs });
    for (const act of h.driverActs) act.forMs = v.lastMs;
    for (const pair of h.agreement) pair.forMs = v.lastMs;
    if (h.supply) h.supply.forMs = v.lastMs;
    const points = <T extends object>(value: T) => [
      { speedMps: 0, ...value },
      { speedMps: 20, ...value },
    ];
    if (plan.steering?.by === 'angle') plan.steering.level = points({ angleDeg: v.angleDeg });
    if (plan.braking?.by === 'pressure') plan.braking.level = points({ pressureBar: v.pressureBar });
    if (plan.drive?.by === 'pedal') plan.drive.level = points({ pedalPercent: v.pedalPercent });
    return { plan, stepMs: v.stepMs, seed: v.seed };
  });

describe(`in ${STEPS} simulated steps`, () => {
  test.each([1, 2, 3, 4, 5, 6, 7])(
    'channels %i (1 steering, 2 braking, 4 drive, summed) with every watch meet every obligation, and most conditions occur',
    async (channels) => {
      const subject = subjectOf({ guard: planWith(channels, 15), stepMs: 10 });
      const { broken, met } = await explore(subject, { steps: STEPS, seed: channels });
      expect(subject.claims.filter((_, i) => broken[i] !== null).map((c) => c.name)).toEqual([]);
      expect(met.filter((m) => m).length / met.length).toBeGreaterThan(0.9);
    },
    PATIENCE_MS,
  );

  test(
    'random plans meet every obligation',
    async () => {
      await fc.assert(
        fc.asyncProperty(varied, async ({ plan, stepMs, seed }) => {
          const subject = subjectOf({ guard: plan, stepMs });
          expect(checkProgram(subject.guard)).toEqual([]);
          const { broken } = await explore(subject, { steps: STEPS, seed });
          expect(subject.claims.filter((_, i) => broken[i] !== null).map((c) => c.name)).toEqual([]);
        }),
        { numRuns: 12, seed: 5 },
      );
    },
    PATIENCE_MS,
  );
});
