/**
 * Small changes to the C, each of which the comparison with the run must notice. A change that no traffic shows goes to the
 * solver: either original and mutant are equivalent, or it finds a state and inputs with which one step shows the change.
 * A sample drawn by the seed; MUTANTS=100 draws more, MUTANTS=all takes every one and lists those that traffic did not show.
 */
import { execFileSync, spawnSync } from 'node:child_process';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Gateway } from '../../src/bridge/gateway.ts';
import { firmwareProject } from '../../src/firmware/project.ts';
import { checkProgram } from '../../src/logic/check.ts';
import { smtSteps } from '../../src/logic/emit-smt.ts';
import type { Program } from '../../src/logic/form.ts';
import { initialState } from '../../src/logic/interpret.ts';
import { openSolver, type Solver } from '../../src/logic/solver.ts';
import { aloneSource, stepAlone, stepOf } from './alone.ts';
import { random, Scenario } from './events.ts';
import { EventFile, gccThere, HashingRun, hashesOf, provedFor, RUNTIME, Workshop } from './harness.ts';
import {
  type Miter,
  miter,
  nodeMiter,
  type ProgramMutant,
  programMutants,
  type TextMutant,
  textMutants,
  withIntervals,
} from './mutate.ts';
import { van } from './van.ts';

const SEED = 20266;
const ALL = process.env.MUTANTS === 'all';
const SAMPLE = ALL ? Number.POSITIVE_INFINITY : Number(process.env.MUTANTS ?? 24);
const [SHORT, LONG] = [10_000, ALL ? 300_000 : 100_000];

const workshop = new Workshop();
let solver: Solver;
let folder: string;
let hashes: Uint32Array;
const { gateway, dictionaries, guard } = van();
const files = firmwareProject(gateway, 'armable', provedFor(gateway), RUNTIME);
const code = files.find((f) => f.path === 'gateway.c')!.content;

afterAll(async () => {
  workshop.end();
  await solver?.close();
});

describe.skipIf(!gccThere())(`mutants, drawn with seed ${SEED}`, () => {
  beforeAll(async () => {
    solver = await openSolver();
    folder = workshop.write('mutants', files);
    execFileSync('gcc', ['-O1', '-c', 'main.c', 'gateway_trace.c', 'port_host.c'], { cwd: folder });
    writeFileSync(join(folder, 'alone.c'), aloneSource(gateway));
    const scenario = new Scenario(gateway, dictionaries, guard, SEED);
    const run = new HashingRun(gateway);
    const [short, long] = [SHORT, LONG].map((n) => new EventFile(join(folder, `events-${n}`), gateway));
    hashes = new Uint32Array(LONG);
    for (let k = 0; k < LONG; k++) {
      const step = scenario.next();
      if (k < SHORT) short!.add(step);
      long!.add(step);
      hashes[k] = run.step(step);
    }
    short!.close();
    long!.close();
  }, 120_000);

  test('a changed limit, operator, factor, table or first value in a program is noticed, or changes nothing', {
    timeout: 7_200_000,
  }, async () => {
    const all = gateway.stages.flatMap(({ program }, stage) =>
      programMutants(program).map((mutant) => ({ mutant, stage })),
    );
    const tally: Record<string, number> = { drawn: 0, byTraffic: 0, byOneStep: 0, equivalent: 0 };
    const unnoticed: string[] = [];
    const told: string[] = [];
    for (const { mutant, stage } of drawn(all)) {
      tally.drawn!++;
      if (byTraffic(codeWith(mutant.program, stage))) {
        tally.byTraffic!++;
        continue;
      }
      const verdict = await bySolver(mutant, stage);
      if (verdict === 'equivalent' || verdict === 'byOneStep') tally[verdict]!++;
      else unnoticed.push(`${verdict}: ${mutant.tell()}`);
      told.push(`${verdict}: ${mutant.tell()}`);
    }
    console.log(`programs: ${JSON.stringify(tally)} of ${all.length}${ALL ? `\n${told.join('\n')}` : ''}`);
    expect(unnoticed).toEqual([]);
    expect(tally.byTraffic! / tally.drawn!).toBeGreaterThan(0.7);
  });

  test('a changed operator, number or truth value in the code around the programs is noticed, or changes nothing', {
    timeout: 7_200_000,
  }, () => {
    const own = new Set(gateway.stages.flatMap(({ program: { name } }) => [`${name}_step`, `${name}_init`]));
    const tables = new Set(gateway.stages.map((s) => s.program.name));
    const all = textMutants(
      code,
      (name) => !own.has(name) && ![...tables].some((t) => name.startsWith(`${t}_`)),
    );
    const sample = drawn(all);
    const notShown = sample.filter((m) => !byTraffic(m.source));
    const unnoticed = notShown.filter((m) => !changesNothing(m));
    const tally = {
      drawn: sample.length,
      byTraffic: sample.length - notShown.length,
      withoutEffect: notShown.length - unnoticed.length,
    };
    console.log(`around the programs: ${JSON.stringify(tally)} of ${all.length}`);
    expect(unnoticed.map((m) => `${m.where}: ${m.before} -> ${m.after}`)).toEqual([]);
  });
});

/** A sample without repetition, the same for the same seed. */
function drawn<T>(all: readonly T[]): T[] {
  if (SAMPLE >= all.length) return [...all];
  const rand = random(SEED);
  const rest = [...all];
  return Array.from({ length: SAMPLE }, () => rest.splice(Math.floor(rand() * rest.length), 1)[0] as T);
}

function codeWith(program: Program, stage: number): string {
  const changed: Gateway = {
    ...gateway,
    stages: gateway.stages.map((s, k) => (k === stage ? { ...s, program } : s)),
  };
  return firmwareProject(changed, 'armable', provedFor(changed), RUNTIME).find((f) => f.path === 'gateway.c')!
    .content;
}

/** Whether traffic shows the change: another hash in some step, or a stop by the bounds check. */
function byTraffic(source: string): boolean {
  writeFileSync(join(folder, 'mutant.c'), source);
  const flags = ['-std=c99', '-O0', '-w', '-fsanitize=bounds', '-fsanitize-undefined-trap-on-error'];
  const objects = ['main.o', 'gateway_trace.o', 'port_host.o'];
  const compiled = spawnSync('gcc', [...flags, '-o', 'mutant', 'mutant.c', ...objects], { cwd: folder });
  if (compiled.status !== 0) return true;
  return [SHORT, LONG].some((steps) => {
    try {
      const theirs = hashesOf(join(folder, 'mutant'), join(folder, `events-${steps}`));
      return theirs.length !== steps || theirs.some((hash, i) => hash !== hashes[i]);
    } catch {
      return true;
    }
  });
}

/** The solver's word on a change that traffic did not show; what it finds is played through the changed C. */
async function bySolver({ program, node }: ProgramMutant, stage: number): Promise<string> {
  const original = gateway.stages[stage]!.program;
  if (node !== null && (await answer(nodeMiter(original, program, node), 'any')).verdict === 'unsat')
    return 'equivalent';
  const changed = withIntervals(program);
  const wrong = checkProgram(changed);
  if (wrong.length > 0) return `no program (${wrong[0]})`;
  const { verdict, trace } =
    node === null
      ? await answer(miter(original, changed, 'first'), 'initial')
      : await answer(miter(original, changed, 'any'), 'any');
  if (verdict === 'unsat') return 'equivalent';
  if (!trace) return 'the solver does not know';
  const inputs = trace.inputs[0]!;
  execFileSync('gcc', ['-std=c99', '-O0', '-w', '-o', 'alone', 'alone.c', 'mutant.c'], { cwd: folder });
  const said = stepAlone(join(folder, 'alone'), stage, node === null ? 'first' : trace.start, inputs);
  const right = stepOf(original, node === null ? initialState(original) : trace.start, inputs);
  return said.join() === right.join() ? 'found, but the C agrees' : 'byOneStep';
}

async function answer({ program, same }: Miter, start: 'any' | 'initial') {
  const steps = smtSteps(program, { steps: 1, start, roots: [same] });
  const text = `${steps.text}\n(assert (not ${steps.symbol(same)}))`;
  const { verdict, values } = await solver.check(text, { rlimit: 100_000_000, values: steps.free });
  return { verdict, trace: verdict === 'sat' ? steps.trace(values) : null };
}

/** Changes of the text that are none of what it computes, with the reason. */
const WITHOUT_EFFECT: { where: RegExp; after: RegExp; why: string }[] = [
  {
    where: /^bw_(abs|min|max|clamp|elapsed)$/,
    after: /(<=|>=|< 1)/,
    why: 'at a tie both sides of the choice are equal',
  },
  {
    where: /^gateway_frame$/,
    after: /^return true;/,
    why: 'the loop asks for no message beyond the last, so the line is never reached',
  },
];

function changesNothing(mutant: TextMutant): boolean {
  return WITHOUT_EFFECT.some((w) => w.where.test(mutant.where) && w.after.test(mutant.after));
}
