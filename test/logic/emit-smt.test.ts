import fc from 'fast-check';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { ProgramBuilder } from '../../src/logic/builder.ts';
import { rangeObligations, smtSteps } from '../../src/logic/emit-smt.ts';
import type { Program } from '../../src/logic/form.ts';
import { interpret } from '../../src/logic/interpret.ts';
import { openSolver, type Solver } from '../../src/logic/solver.ts';
import { drawPoints, programs } from './programs.ts';
import { agrees, solvedSteps } from './readers.ts';

let solver: Solver;
beforeAll(async () => {
  solver = await openSolver();
});
afterAll(() => solver.close());

const SEED = 20261125;

test('the solver gives every node the value that the interpreter gives it, over unrolled steps and boundary inputs', async () => {
  console.log(`seed ${SEED}`);
  await fc.assert(
    fc.asyncProperty(programs, fc.nat(), async (program, seed) => {
      const points = drawPoints(program, 4, seed, 2);
      expect(await solvedSteps(solver, program, points)).toEqual(
        points.map(({ state, inputs }) => {
          const first = interpret(program, state, inputs[0]!);
          const second = interpret(program, first.next, inputs[1]!);
          return [[...first.values], [...second.values], [...second.next]];
        }),
      );
    }),
    { seed: SEED, numRuns: 20 },
  );
});

test('over more programs the solver finds the values of the interpreter consistent with the emitted text', async () => {
  await fc.assert(
    fc.asyncProperty(programs, fc.nat(), async (program, seed) => {
      const points = drawPoints(program, 4, seed).map((point) => ({
        ...point,
        values: interpret(program, point.state, point.inputs[0]!).values,
      }));
      expect(await agrees(solver, program, points, (text) => text)).toBe(true);
    }),
    { seed: SEED, numRuns: 80 },
  );
});

/** Counts up to 5 while `run` is held, by a next value that only the comparison keeps in range. */
function counting(limit: number): Program {
  const b = new ProgramBuilder('counting', 'Counts.');
  const run = b.inputBool('run');
  const count = b.state('count', 0, 5, 0);
  const more = b.select(b.lt(count, b.const(limit)), b.add(count, b.const(1)), count);
  b.next(count, b.select(run, more, b.const(0)));
  b.output('full', b.eq(count, b.const(5)));
  return b.finish();
}

test('that a next value stays in its range is asked at full width, where the cut value would hide the escape', async () => {
  const escapes = async (limit: number) => {
    const program = counting(limit);
    const [obligation] = rangeObligations(program);
    expect(obligation).toMatchObject({ state: 0, lo: 0, hi: 5, shown: false });
    const smt = smtSteps(program, { steps: 1, start: 'any', roots: [obligation!.node] });
    const answer = await solver.check(`${smt.text}(assert (not ${smt.nextInRange(0)}))`, {
      values: smt.free,
    });
    return { answer, trace: smt.trace(answer.values), program };
  };
  expect((await escapes(5)).answer.verdict).toBe('unsat');
  const { answer, trace, program } = await escapes(6);
  expect(answer.verdict).toBe('sat');
  expect(interpret(program, trace.start, trace.inputs[0]!).next[0]).toBe(6);
});

test('a bounded check from the initial state finds the shortest way to an output, and the way replays', async () => {
  const program = counting(5);
  const full = program.outputs[0]!.node;
  for (const steps of [5, 6]) {
    const smt = smtSteps(program, {
      steps,
      start: 'initial',
      roots: (step) => (step === steps - 1 ? [full] : []),
    });
    const answer = await solver.check(`${smt.text}(assert ${smt.symbol(full, steps - 1)})`, {
      values: smt.free,
    });
    expect(answer.verdict).toBe(steps === 6 ? 'sat' : 'unsat');
    if (answer.verdict === 'unsat') continue;
    const { start, inputs } = smt.trace(answer.values);
    let state = start;
    const seen = inputs.map((step) => {
      const { next, outputs } = interpret(program, state, step);
      state = next;
      return outputs[0];
    });
    expect(seen).toEqual([0, 0, 0, 0, 0, 1]);
  }
});

test('only the cone of what is asked for is written', () => {
  const b = new ProgramBuilder('two', 'Two halves.');
  const [x, y] = [b.input('x', 0, 9), b.input('y', -9, 9)];
  const left = b.named('left', b.add(x, b.const(1)));
  const right = b.named('right', b.mulk(y, 3));
  b.output('left', left);
  b.output('right', right);
  const program = b.finish();
  const smt = smtSteps(program, { steps: 1, start: 'any', roots: [right] });
  expect(smt.text).not.toMatch(/left|in\.x/);
  expect(smt.free).toEqual(['in.y@0']);
  expect(() => smt.symbol(left)).toThrow(/node 3 is not in the cone of step 0/);
  expect(() => smt.inputSymbol(0)).toThrow(/input x is not in the cone/);
  expect(smt.literal(right, -27)).toBe('#b100101');
  expect(smt.decode(right, 0b100101n)).toBe(-27);
  expect(() => smt.literal(right, 40)).toThrow(/40 cannot stand beside right \(-27 … 27\)/);
});
