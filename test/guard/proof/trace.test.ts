import { expect, test } from 'vitest';
import { specFigures } from '../../../src/guard/obligations/index.ts';
import { guardProgram } from '../../../src/guard/program/guard.ts';
import { Bench, explore } from '../../../src/guard/proof/explore.ts';
import { guardSubject } from '../../../src/guard/proof/subject.ts';
import { breaksAt, counterexample, shrink } from '../../../src/guard/proof/trace.ts';
import { smallPlan } from '../plan.ts';

const figures = specFigures(smallPlan(), 10);
const late = guardProgram({ ...figures, commandAgeSteps: figures.commandAgeSteps + 2 });
const subject = guardSubject(late, figures);
const claim = subject.claims.findIndex((c) => c.name === 'leave.command-lost');

test('a run that breaks a claim is found, shortened to what it needs, and replays in the interpreter', async () => {
  const { broken, pool } = await explore(subject, { steps: 30_000, seed: 1 });
  const run = broken[claim]!;
  const bench = new Bench(subject.program, subject.claims);
  expect(breaksAt(bench, claim, run)).toBe(run.length - 1);
  const short = shrink(subject, subject.claims[claim]!, run);
  const needed = figures.armHoldSteps + 1 + 1;
  expect(short.length).toBeGreaterThanOrEqual(needed);
  expect(short.length).toBeLessThan(needed + 20);
  const example = counterexample(subject, subject.claims[claim]!, short);
  expect(example.offendingStep).toBe(short.length - 1);
  const ages = example.columns.find((c) => c.name === 'command_age')!;
  expect(ages.values.at(-1)).toBeGreaterThan(figures.commandAgeSteps);
  expect(example.columns.every((c) => c.values.length === short.length)).toBe(true);
  expect(pool.length).toBeGreaterThan(50);
});

test('the clock of a shortened run still goes on in steps that the guard accepts', async () => {
  const { broken } = await explore(subject, { steps: 30_000, seed: 1 });
  const short = shrink(subject, subject.claims[claim]!, broken[claim]!);
  const at = subject.program.inputs.findIndex((input) => input.name === 'clock_ms');
  for (let i = 1; i < short.length; i++) {
    const spacing = (short[i]![at]! - short[i - 1]![at]! + 2 ** 32) % 2 ** 32;
    expect(spacing).toBeGreaterThanOrEqual(figures.spacingMinMs);
    expect(spacing).toBeLessThanOrEqual(figures.spacingMaxMs);
  }
});

test('values are given in physical units where the number of a note says what a count is worth', async () => {
  const { broken } = await explore(subject, { steps: 30_000, seed: 1 });
  const example = counterexample(subject, subject.claims[claim]!, broken[claim]!);
  const column = (name: string) => example.columns.find((c) => c.name === name)!;
  expect(column('speed').note).toBe('m/s, speed of the car, either direction');
  expect(Math.max(...column('speed').values)).toBeLessThanOrEqual(100);
  expect(column('steering_level').kind).toBe('value');
  expect(column('steering_level').note).toBe('°');
  expect(column('mode').note).toContain('2 armed');
});
