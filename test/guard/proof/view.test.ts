import { afterAll, beforeAll, expect, test } from 'vitest';
import type { GuardPlan } from '../../../src/guard/model.ts';
import { specFigures } from '../../../src/guard/obligations/index.ts';
import { guardProgram } from '../../../src/guard/program/guard.ts';
import { explore } from '../../../src/guard/proof/explore.ts';
import {
  type Ask,
  boundedAsk,
  inductiveStatements,
  notShownIn1,
} from '../../../src/guard/proof/induction.ts';
import { proveGuard } from '../../../src/guard/proof/prove.ts';
import { seededRandom } from '../../../src/guard/proof/random.ts';
import { scenario } from '../../../src/guard/proof/scenario.ts';
import { guardSubject } from '../../../src/guard/proof/subject.ts';
import { viewOf } from '../../../src/guard/proof/view.ts';
import { initialState, interpret } from '../../../src/logic/interpret.ts';
import { openSolver, type Solver } from '../../../src/logic/solver.ts';
import { makeTable, tableValue } from '../../../src/logic/table.ts';
import { fullPlan } from '../plan.ts';

const PATIENCE_MS = 600_000;
let solver: Solver;
beforeAll(async () => {
  solver = await openSolver();
});
afterAll(() => solver.close());

/** Texts of all queries of a proof, none of which the solver has to answer: every one is said to hold. */
async function queriesOf(plan: GuardPlan): Promise<string[]> {
  const texts: string[] = [];
  const yes: Solver = {
    check: async (text) => {
      texts.push(text);
      return { verdict: 'unsat', values: new Map() };
    },
    close: async () => undefined,
  };
  await proveGuard({ guard: plan, stepMs: 10 }, { solver: yes, simulatedSteps: 100 });
  return texts;
}

test('an edited table of braking leaves every query about steering and drive as it was', async () => {
  const before = new Set(await queriesOf(fullPlan()));
  const plan = fullPlan();
  plan.braking = {
    ...plan.braking!,
    by: 'pressure',
    level: [
      { speedMps: 0, pressureBar: 41 },
      { speedMps: 20, pressureBar: 22 },
    ],
  } as GuardPlan['braking'];
  const after = await queriesOf(plan);
  const same = after.filter((text) => before.has(text));
  expect(same.length).toBeGreaterThan(after.length / 2);
  for (const text of after.filter((t) => !before.has(t))) expect(text).toMatch(/braking/);
  for (const channel of ['steering', 'drive'])
    expect(same.some((text) => text.includes(`${channel}_slew`))).toBe(true);
});

test('a view runs like the guard wherever its free values are those of the guard', () => {
  const figures = specFigures(fullPlan(), 10);
  const subject = guardSubject(guardProgram(figures), figures);
  const view = viewOf(subject, ['steering']).program;
  const added = view.inputs.slice(subject.program.inputs.length).map((input) => input.name);
  const orders = added.filter((name) => name.endsWith('_order'));
  expect(orders).toEqual(['free_braking_order', 'free_drive_order']);
  for (const c of figures.channels.slice(1)) {
    const held = view.states.find((s) => s.name === `${c.key}_held`)!;
    expect([held.lo, held.hi]).toEqual([0, c.reach]);
  }
  const speedNow = subject.program.nodes.findIndex((n) => n.name === 'speed_now');
  const levels = new Map(figures.channels.map((c) => [c.key as string, makeTable('level', c.level)]));
  const drive = scenario(figures, seededRandom(11));
  let [ours, theirs] = [initialState(subject.program), initialState(view)];
  const shown = { mode: 0 };
  const modes = new Set<number>();
  for (let step = 0; step < drive.steps; step++) {
    const inputs = new Float64Array(subject.program.inputs.length);
    drive.next(shown, inputs);
    const whole = interpret(subject.program, ours, inputs);
    const value = (name: string) => whole.values[subject.program.outputs.find((o) => o.name === name)!.node]!;
    const free = added.map((name) => {
      const [, key, what] = name.split('_') as [string, string, string];
      if (what === 'order') return value(`${key}_order`);
      return tableValue(levels.get(key)!, whole.values[speedNow]!);
    });
    const seen = interpret(view, theirs, Float64Array.from([...inputs, ...free]));
    expect(view.outputs.map((o) => seen.values[o.node])).toEqual(
      subject.program.outputs.map((o) => whole.values[o.node]),
    );
    expect([...seen.next]).toEqual([...whole.next]);
    [ours, theirs] = [whole.next, seen.next];
    shown.mode = value('mode');
    modes.add(shown.mode);
  }
  expect(modes.size).toBeGreaterThan(2);
});

test(
  'what is broken in the guard is not shown in any view',
  async () => {
    const plan = fullPlan();
    delete plan.steering;
    delete plan.handover.supply;
    Object.assign(plan.handover, { driverActs: [], agreement: [] });
    const figures = specFigures(plan, 10);
    // Braking may be ordered 0.01 bar beyond its level, and commands may be a step older.
    const wrong = guardProgram({
      ...figures,
      commandAgeSteps: figures.commandAgeSteps + 1,
      channels: figures.channels.map((c) =>
        c.key === 'braking'
          ? { ...c, level: c.level.map(([x, y]) => [x, y + 1]), levelMax: c.levelMax + 1 }
          : c,
      ),
    });
    const subject = guardSubject(wrong, figures);
    const ask: Ask = boundedAsk(solver, {});
    const { broken } = await explore(subject, { steps: 40_000, seed: 3 });
    const names = subject.claims.filter((_, i) => broken[i] !== null).map((c) => c.name);
    expect(names).toContain('braking.level');
    expect(names).toContain('leave.command-lost');
    const kept = (await inductiveStatements(subject, ask))!;
    // What a broken guard owes is asked twice, in the view and of the whole; two of them show it.
    const checked = ['braking.level', 'leave.command-lost'];
    const claims = subject.claims.filter((c) => checked.includes(c.name));
    const open: string[] = [];
    for (const group of new Set(claims.map((c) => c.group))) {
      const asked = claims.filter((c) => c.group === group);
      open.push(...(await notShownIn1(subject, kept, asked, ask)).map((c) => c.name));
    }
    expect(open.sort()).toEqual(checked);
  },
  PATIENCE_MS,
);
