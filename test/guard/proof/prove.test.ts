import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { bindGuard } from '../../../src/guard/binding.ts';
import { guardFigures } from '../../../src/guard/figures.ts';
import { specFigures } from '../../../src/guard/obligations/index.ts';
import { guardProgram } from '../../../src/guard/program/guard.ts';
import {
  boundedAsk,
  inductiveStatements,
  notShownIn1,
  shownByInduction,
} from '../../../src/guard/proof/induction.ts';
import { proveGuard } from '../../../src/guard/proof/prove.ts';
import { type Claim, guardSubject, type Subject } from '../../../src/guard/proof/subject.ts';
import { ProgramBuilder } from '../../../src/logic/builder.ts';
import { programHash } from '../../../src/logic/hash.ts';
import { openSolver, type Solver } from '../../../src/logic/solver.ts';
import { smallPlan } from '../plan.ts';

let solver: Solver;
beforeAll(async () => {
  solver = await openSolver();
});
afterAll(() => solver.close());
const run = { simulatedSteps: 40_000 };
/** A proof takes some seconds of a processor, which a busy machine may spread over minutes. */
const PATIENCE_MS = 600_000;

test(
  'every obligation of a sound guard is proved, of the very program that the bridge takes',
  async () => {
    const plan = smallPlan();
    const stages: string[] = [];
    const report = await proveGuard(
      { guard: plan, stepMs: 10 },
      { ...run, solver, onProgress: (_, note) => stages.push(note) },
    );
    expect(report.obligations.filter((o) => o.status !== 'proved')).toEqual([]);
    expect(report.obligations.length).toBeGreaterThan(60);
    expect(report.statements.filter((s) => !s.kept)).toEqual([]);
    expect(report.hash).toBe(programHash(bindGuard(plan, [], 10).stage.program));
    expect(new Set(report.obligations.map((o) => o.hash)).size).toBe(report.obligations.length);
    expect(stages.at(-1)).toBe('done');
  },
  PATIENCE_MS,
);

test(
  'a level that falls faster than the slew can follow breaks the slew, in a run that starts at switching on',
  async () => {
    const plan = smallPlan();
    plan.steering.level = [
      { speedMps: 0, angleDeg: 60 },
      { speedMps: 18, angleDeg: 60 },
      { speedMps: 19, angleDeg: 6 },
    ];
    const report = await proveGuard({ guard: plan, stepMs: 10 }, { ...run, solver });
    const failed = report.obligations.filter((o) => o.status === 'failed');
    expect(failed.map((o) => o.name)).toEqual(['steering.slew']);
    const example = failed[0]!.counterexample!;
    const column = (name: string) => example.columns.find((c) => c.name === name)!.values;
    expect(column('mode')[example.offendingStep]).toBe(2);
    expect(example.offendingStep).toBe(example.steps - 1);
    const order = column('steering_order');
    const moved = Math.abs(order[example.offendingStep]! - order[example.offendingStep - 1]!);
    expect(moved).toBeGreaterThan(column('steering_slew')[example.offendingStep]! + 1e-9);
    expect(report.obligations.filter((o) => o.status === 'proved').length).toBe(
      report.obligations.length - 1,
    );
  },
  PATIENCE_MS,
);

test(
  'a guard that can never arm proves nothing about being armed: those obligations are vacuous',
  async () => {
    const plan = smallPlan();
    plan.steering.armAngleDeg = 0.001;
    const report = await proveGuard({ guard: plan, stepMs: 10 }, { ...run, solver });
    const status = (name: string) => report.obligations.find((o) => o.name === name)?.status;
    expect(status('steering.slew')).toBe('vacuous');
    expect(status('arm.press')).toBe('vacuous');
    expect(status('release.command-lost')).toBe('vacuous');
    expect(status('steering.quiet')).toBe('proved');
    expect(status('stop')).toBe('proved');
  },
  PATIENCE_MS,
);

test(
  'where a number of the guard leaves its range, nothing is proved by induction',
  async () => {
    const figures = specFigures(smallPlan(), 10);
    const program = structuredClone(guardProgram(figures));
    const at = program.states.findIndex((s) => s.name === 'steering_held');
    program.states[at]!.hi = 100;
    program.nodes.find((n) => n.kind === 'state' && n.state === at)!.hi = 100;
    const report = await proveGuard({ guard: smallPlan(), stepMs: 10, program }, { ...run, solver });
    expect(report.obligations.find((o) => o.name === 'range.steering-held')?.status).toBe('failed');
    expect(report.obligations.filter((o) => o.status === 'proved')).toEqual([]);
  },
  PATIENCE_MS,
);

test(
  'a proof can be stopped',
  async () => {
    const stop = new AbortController();
    const proof = proveGuard(
      { guard: smallPlan(), stepMs: 10 },
      { ...run, solver, signal: stop.signal, onProgress: (fraction) => fraction > 0.05 && stop.abort() },
    );
    await expect(proof).rejects.toThrow(/abort/i);
  },
  PATIENCE_MS,
);

describe('induction', () => {
  /** Two counters that a step exchanges; `low` falls to 0 only after its partner did. */
  function toy(): Subject {
    const b = new ProgramBuilder('toy', '');
    const a = b.state('a', 0, 9, 1);
    const c = b.state('c', 0, 9, 1);
    const go = b.inputBool('go');
    b.next(a, b.select(go, c, a));
    b.next(c, b.select(go, c, b.const(1)));
    const program = b.finish();
    const nodes = program.nodes.slice();
    const one = nodes.push({ kind: 'const', type: 'int', lo: 1, hi: 1, name: '', value: 1 }) - 1;
    const when = nodes.push({ kind: 'const', type: 'bool', lo: 1, hi: 1, name: '', value: 1 }) - 1;
    const must = nodes.push({ kind: 'eq', type: 'bool', lo: 0, hi: 1, name: '', a, b: one }) - 1;
    const helps = nodes.push({ kind: 'eq', type: 'bool', lo: 0, hi: 1, name: '', a: c, b: one }) - 1;
    const never = nodes.push({ kind: 'lt', type: 'bool', lo: 0, hi: 1, name: '', a: one, b: c }) - 1;
    return {
      guard: program,
      figures: specFigures(smallPlan(), 10),
      program: { ...program, nodes },
      claims: [{ name: 'a', sentence: '', when, must, group: '', sees: null }],
      statements: [
        { name: 'helps', node: helps, group: 'helps', sees: null, ofTables: false },
        { name: 'wrong_at_start', node: never, group: 'wrong', sees: null, ofTables: false },
        { name: 'not_carried', node: must, group: 'not', sees: null, ofTables: false },
      ],
    };
  }

  test('statements that fail at the start are dropped, and those that stay carry each other', async () => {
    const ask = boundedAsk(solver, {});
    const kept = await inductiveStatements(toy(), ask);
    expect(kept?.map((s) => s.name)).toEqual(['helps', 'not_carried']);
    const alone = { ...toy(), statements: toy().statements.filter((s) => s.name === 'not_carried') };
    expect(await inductiveStatements(alone, ask)).toEqual([]);
  });

  test('a claim that needs a statement is open without it and shown with it', async () => {
    const subject = toy();
    const ask = boundedAsk(solver, {});
    const claim = subject.claims[0] as Claim;
    const next = { ...claim, must: subject.statements[0]!.node };
    expect(await notShownIn1(subject, [], [next], ask)).toEqual([next]);
    expect(await notShownIn1(subject, [subject.statements[0]!], [next], ask)).toEqual([]);
  });

  test('two steps show what one does not, and only if the first step from the start holds too', async () => {
    const b = new ProgramBuilder('delay', '');
    const first = b.state('first', 0, 3, 0);
    const second = b.state('second', 0, 3, 0);
    b.next(first, b.const(0));
    b.next(second, first);
    const ok = b.eq(second, b.const(0));
    b.output('ok', ok);
    b.output('always', b.or(ok, b.not(ok)));
    const program = b.finish();
    const always = program.outputs[1]!.node;
    const subject: Subject = { ...toy(), guard: program, program, claims: [], statements: [] };
    const claim: Claim = { name: 'ok', sentence: '', when: always, must: ok, group: '', sees: null };
    const ask = boundedAsk(solver, {});
    expect(await notShownIn1(subject, [], [claim], ask)).toEqual([claim]);
    expect(await shownByInduction(subject, [], claim, 3, ask)).toBe(true);
    const bad = structuredClone(program);
    bad.states[1]!.init = 1;
    expect(await shownByInduction({ ...subject, program: bad }, [], claim, 3, ask)).toBe(false);
  });
});

test('the guard of the plan and of another plan do not share their hashes', () => {
  const other = smallPlan();
  other.steering.level[1]!.angleDeg = 2.01;
  expect(programHash(guardProgram(guardFigures(other, 10)))).not.toBe(
    programHash(guardProgram(guardFigures(smallPlan(), 10))),
  );
  expect(() =>
    guardSubject(guardProgram(guardFigures(other, 10)), specFigures(smallPlan(), 10)),
  ).not.toThrow();
});
