/** Each obligation fails when the part of the guard that it watches is broken. */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { ChannelFigures, GuardFigures } from '../../../src/guard/figures.ts';
import { specFigures } from '../../../src/guard/obligations/index.ts';
import { guardProgram } from '../../../src/guard/program/guard.ts';
import { searchAll } from '../../../src/guard/proof/bounded.ts';
import { explore } from '../../../src/guard/proof/explore.ts';
import { type Ask, boundedAsk } from '../../../src/guard/proof/induction.ts';
import { strengthOf } from '../../../src/guard/proof/strength.ts';
import { guardSubject } from '../../../src/guard/proof/subject.ts';
import type { LogicNode, Program } from '../../../src/logic/form.ts';
import { openSolver, type Solver } from '../../../src/logic/solver.ts';
import { smallPlan } from '../plan.ts';

const SEED = 1;
const MUTANTS = 24;
/** Searches take some seconds of a processor, which a busy machine may spread over minutes. */
const PATIENCE_MS = 600_000;
const figures = specFigures(smallPlan(), 10);
const guard = guardProgram(figures);

let solver: Solver;
let ask: Ask;
beforeAll(async () => {
  solver = await openSolver();
  ask = boundedAsk(solver, {});
});
afterAll(() => solver.close());

/** Names of the obligations that simulated runs break, or `wanted` where only a search finds a run that breaks it. */
async function brokenBy(program: Program, wanted: string): Promise<string[]> {
  const subject = guardSubject(program, figures);
  const { broken, pool } = await explore(subject, { steps: 30_000, seed: SEED });
  const names = subject.claims.filter((_, i) => broken[i] !== null).map((c) => c.name);
  if (names.includes(wanted)) return names;
  const claim = subject.claims.filter((c) => c.name === wanted);
  const [run] = await searchAll(subject, claim, pool, ask, { depths: [1] });
  return run ? [...names, wanted] : names;
}

describe(`a figure that is off by one count (seed ${SEED})`, () => {
  const steering = figures.channels[0]!;
  const channel = (changed: Partial<ChannelFigures>): Partial<GuardFigures> => ({
    channels: [{ ...steering, ...changed }],
  });
  const table = (of: 'level' | 'slew', by: number): Partial<GuardFigures> =>
    channel({
      [of]: steering[of].map(([x, y]) => [x, y + by]),
      levelMax: steering.levelMax + (of === 'level' && by > 0 ? by : 0),
    });
  const torque = (changed: Partial<NonNullable<GuardFigures['torque']>>): Partial<GuardFigures> => ({
    torque: { ...figures.torque!, ...changed },
  });
  const one = (name: keyof GuardFigures, by: number): Partial<GuardFigures> => ({
    [name]: (figures[name] as number) + by,
  });

  test.each([
    ['level 0.01° higher', table('level', 1), 'steering.level'],
    ['level 0.01° lower', table('level', -1), 'steering.follow'],
    ['slew 0.01° per step faster', table('slew', 1), 'steering.slew'],
    ['slew 0.01° per step slower', table('slew', -1), 'steering.follow'],
    ['command one step older', one('commandAgeSteps', 1), 'leave.command-lost'],
    ['command one step younger', one('commandAgeSteps', -1), 'armed.stays'],
    ['speed, angle and torque one step older', one('sensorAgeSteps', 1), 'leave.measured-steering-lost'],
    ['release one step longer', one('releaseSteps', 1), 'release.command-lost'],
    ['release one step shorter', one('releaseSteps', -1), 'steering.fade-even'],
    ['override torque 0.01 N·m higher', torque({ at: figures.torque!.at + 1 }), 'leave.driver-override'],
    ['override torque 0.01 N·m lower', torque({ at: figures.torque!.at - 1 }), 'ready.offered'],
    ['override one step later', torque({ steps: figures.torque!.steps + 1 }), 'leave.driver-override'],
    ['override one step earlier', torque({ steps: figures.torque!.steps - 1 }), 'armed.stays'],
    ['hold one step shorter', one('armHoldSteps', -1), 'ready.only'],
    ['hold one step longer', one('armHoldSteps', 1), 'ready.offered'],
    ['arming angle 0.01° wider', channel({ near: steering.near! + 1 }), 'ready.only'],
    ['button up one step shorter', one('buttonUpSteps', -1), 'arm.press'],
    ['button down one step shorter', one('buttonDownSteps', -1), 'arm.press'],
    ['step spacing 1 ms longer', one('spacingMaxMs', 1), 'leave.step-spacing'],
    ['step spacing 1 ms shorter', one('spacingMinMs', -1), 'leave.step-spacing'],
    ['highest speed 0.01 m/s higher', one('speedMax', 1), 'ready.only'],
    ['speed followed 0.01 m/s faster', one('speedFollow', 1), 'steering.follow'],
    ['speed at first 0.01 m/s lower', one('speedInit', -1), 'steering.follow'],
    ['speed lead 0.01 m/s wider', one('speedLead', 1), 'leave.speed-outside-its-range'],
    ['speed lead 0.01 m/s narrower', one('speedLead', -1), 'armed.stays'],
  ])('%s is refuted', async (_, changed, by) => {
    const names = await brokenBy(guardProgram({ ...figures, ...changed }), by);
    expect(names).toContain(by);
  });
});

describe(`a part that is missing (seed ${SEED})`, () => {
  /** The guard with one named node replaced. */
  function without(name: string, to: (node: LogicNode, program: Program) => LogicNode): Program {
    const program = structuredClone(guard);
    const id = program.nodes.findIndex((n) => n.name === name);
    expect(id, name).toBeGreaterThanOrEqual(0);
    program.nodes[id] = to(program.nodes[id]!, program);
    return program;
  }
  const truth = (value: 0 | 1) => (): LogicNode => ({
    kind: 'const',
    type: 'bool',
    lo: value,
    hi: value,
    name: '',
    value,
  });
  const still = (name: string): Program => {
    const program = structuredClone(guard);
    const at = program.states.findIndex((s) => s.name === name);
    program.states[at]!.next = program.nodes.findIndex((n) => n.kind === 'state' && n.state === at);
    return program;
  };

  test.each([
    ['no watch on the command', () => without('command_fresh', truth(1)), 'leave.command-lost'],
    ['no watch on the speed', () => without('speed_fresh', truth(1)), 'leave.speed-lost'],
    [
      'no watch on the measured angle',
      () => without('steering_measured_fresh', truth(1)),
      'leave.measured-steering-lost',
    ],
    ["no watch on the driver's torque", () => without('torque_fresh', truth(1)), 'leave.torque-lost'],
    ['no watch on the step spacing', () => without('spacing_ok', truth(1)), 'leave.step-spacing'],
    ['no watch on the range of speed', () => without('speed_ok', truth(1)), 'leave.speed-outside-its-range'],
    ['no override', () => without('override', truth(0)), 'leave.driver-override'],
    ['no arming conditions', () => without('conditions', truth(1)), 'ready.only'],
    ['a press that always counts', () => without('press', truth(1)), 'arm.press'],
    ['a press that never counts', () => without('press', truth(0)), 'arm.offered'],
    ['trips ignored', () => without('trips', truth(0)), 'leave.step-spacing'],
    ['releases ignored', () => without('releases', truth(0)), 'steering.quiet'],
    ['steps of the release forgotten', () => still('steering_fade_step'), 'steering.fade-even'],
    ['count of the release stopped', () => still('fade_left'), 'steering.fade-even'],
    ['hold not counted', () => still('hold_steps'), 'ready.offered'],
    ['override not counted', () => still('override_steps'), 'leave.driver-override'],
    ['presses not used up', () => still('button_seen_up'), 'arm.offered'],
    ['clock not kept', () => still('clock_held'), 'ready.offered'],
    ['order not kept', () => still('steering_held'), 'steering.follow'],
    ['mode not kept', () => still('mode_held'), 'arm.offered'],
    ['cause not kept', () => still('cause_held'), 'cause.kept'],
  ] as const)('%s is refuted', async (_, broken, by) => {
    expect(await brokenBy(broken(), by)).toContain(by);
  });
});

test(
  `of ${MUTANTS} small changes drawn at random (seed ${SEED}), each but a known one is refuted or shown to change nothing`,
  async () => {
    const left: string[] = [];
    const score = await strengthOf(guardSubject(guard, figures), {
      solver,
      mutants: MUTANTS,
      seed: SEED,
      steps: 30_000,
      onJudged: (mutant, { kind }) => {
        if (!['refuted', 'rejected', 'equivalent'].includes(kind)) left.push(`${mutant.name}: ${kind}`);
      },
    });
    // The count that makes sure of zero at the end stands still: equal steps reach zero without it, but that the two guards
    // then order the same is not shown yet, because their states differ. Any other that is left is a gap.
    expect(left.filter((line) => !/ const: -1 becomes 0: notProved$/.test(line))).toEqual([]);
    expect(score.refuted + score.equivalent).toBeGreaterThanOrEqual(MUTANTS - 1);
    expect(score.refuted).toBeGreaterThan(MUTANTS / 2);
  },
  PATIENCE_MS,
);
