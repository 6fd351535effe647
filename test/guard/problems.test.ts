import { describe, expect, test } from 'vitest';
import type { Dictionary } from '../../src/dictionary/model.ts';
import { guardPlanProblems } from '../../src/guard/problems/index.ts';
import { type AnglePlan, sampleHost, samplePlan } from './plan.ts';

const host = sampleHost();

/** Level low enough for a runaway out of any bend that it holds. */
function soundPlan(): AnglePlan {
  const plan = samplePlan();
  for (const point of plan.steering.level) point.angleDeg *= 0.45;
  return plan;
}

function problemsOf(change: (plan: AnglePlan) => void, dictionaries: Dictionary[] = []) {
  const plan = soundPlan();
  change(plan);
  return guardPlanProblems(plan, host, dictionaries);
}

test('a sound plan has no problem, and every problem is placed in guard.yaml', () => {
  expect(problemsOf(() => {})).toEqual([]);
  expect(problemsOf((p) => (p.stopInput.active = 'high')).map((p) => p.file)).toEqual(['guard.yaml']);
});

describe('each mistake in the figures is named with its place', () => {
  const period: Dictionary = {
    form: 'dictionary/1',
    bus: 'van',
    messages: [{ name: 'Command', id: 1, extended: false, length: 8, periodMs: 80, signals: [] }],
  };
  const cases: [string, (p: AnglePlan) => void, string, 'refuse' | 'caution', RegExp, Dictionary[]?][] = [
    [
      'level speeds that fall',
      (p) => (p.steering.level[2]!.speedMps = 4),
      'steering.level[2].speed_mps',
      'refuse',
      /4 after 5/,
    ],
    [
      'slew speeds twice the same',
      (p) => (p.steering.slew[1]!.speedMps = 0),
      'steering.slew[1].speed_mps',
      'refuse',
      /0 after 0/,
    ],
    [
      'a level of nothing',
      (p) => {
        for (const point of p.steering.level) point.angleDeg = 0;
      },
      'steering.level',
      'refuse',
      /0° at every speed/,
    ],
    ['a slew of nothing', (p) => (p.steering.slew[3]!.rateDegPerS = 0), 'steering.slew', 'refuse', /0°\/s/],
    [
      'one pin for both',
      (p) => (p.stopInput.name = p.armInput.name),
      'stop_input.name',
      'refuse',
      /also arms/,
    ],
    ['stop active high', (p) => (p.stopInput.active = 'high'), 'stop_input.active', 'caution', /broken wire/],
    [
      'a command that may stay away longer than a driver needs',
      (p) => (p.handover.commandAgeMs = 1000 * p.budget.reactionTimeS + 1),
      'handover.command_age_ms',
      'caution',
      /longer than the \d+ ms after which the budget counts on the driver/,
    ],
    ['arm active low', (p) => (p.armInput.active = 'low'), 'arm_input.active', 'caution', /broken wire/],
    [
      'a watchdog shorter than the message',
      () => {},
      'handover.command_age_ms',
      'refuse',
      /every 80 ms/,
      [period],
    ],
    [
      'a driver quicker than any',
      (p) => (p.budget.reactionTimeS = 0.5),
      'budget.reaction_time_s',
      'caution',
      /0\.5 s/,
    ],
    [
      'a level over the budget',
      (p) => (p.steering.level[3]!.angleDeg = 30),
      'steering.level',
      'caution',
      /above the budget from 1\d/,
    ],
    [
      'a slew over the budget',
      (p) => (p.steering.slew[3]!.rateDegPerS = 300),
      'steering.slew',
      'caution',
      /above the budget/,
    ],
    [
      'a release too quick',
      (p) => (p.handover.releaseMs = 60),
      'handover.release_ms',
      'caution',
      /quicker than the budget/,
    ],
  ];
  test.each(cases)('%s', (_, change, path, weight, found, dictionaries) => {
    const problems = problemsOf(change, dictionaries);
    const hit = problems.find((p) => p.path === path);
    expect(hit, JSON.stringify(problems)).toBeDefined();
    expect(hit!.weight).toBe(weight);
    expect(hit!.found).toMatch(found);
    expect(hit!.expected).not.toBe('');
  });
});

test('a highest speed at which the car does not run straight is refused', () => {
  const oversteering = { ...host, rearStiffnessNPerRad: 40_000 };
  const problems = guardPlanProblems(soundPlan(), oversteering, []);
  expect(problems.map((p) => [p.path, p.weight])).toEqual([['budget.speed_max_mps', 'refuse']]);
});
