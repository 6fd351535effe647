/** The readers of a program driven side by side, for the tests that compare them. */
import { smtSteps } from '../../src/logic/emit-smt.ts';
import type { Program } from '../../src/logic/form.ts';
import type { Solver } from '../../src/logic/solver.ts';

export interface Point {
  state: Float64Array;
  /** Inputs of two steps. */
  inputs: Float64Array[];
}

/**
 * For each point: every node's value in the first step and in the second, and the state after both, as the solver
 * computes them from the emitted text. `alter` changes that text first.
 */
export async function solvedSteps(
  solver: Solver,
  program: Program,
  points: readonly Point[],
  alter: (text: string) => string = (text) => text,
): Promise<number[][][]> {
  const nodes = [...program.nodes.keys()];
  const states = [...program.states.keys()];
  const runs = points.map(({ state, inputs }, k) => {
    const smt = smtSteps(program, {
      steps: 2,
      start: state,
      roots: nodes,
      finalStates: states,
      prefix: `p${k}.`,
    });
    const fixed = inputs.flatMap((step, at) =>
      program.nodes.flatMap((n, id) =>
        n.kind === 'input'
          ? [`(assert (= ${smt.symbol(id, at)} ${smt.literal(id, step[n.input] as number)}))`]
          : [],
      ),
    );
    return { smt, text: `${alter(smt.text)}${fixed.join('\n')}\n` };
  });
  const symbols = runs.flatMap(({ smt }) => [
    ...[0, 1].flatMap((step) => nodes.map((id) => smt.symbol(id, step))),
    ...states.map((s) => smt.stateSymbol(s, 2)),
  ]);
  const answer = await solver.check(runs.map((r) => r.text).join(''), { values: [...new Set(symbols)] });
  if (answer.verdict !== 'sat') throw new Error(`fixed inputs gave ${answer.verdict}`);
  const value = (symbol: string) => answer.values.get(symbol) as bigint;
  return runs.map(({ smt }) => [
    ...[0, 1].map((step) => nodes.map((id) => smt.decode(id, value(smt.symbol(id, step))))),
    states.map((s) => smt.decodeState(s, value(smt.stateSymbol(s, 2)))),
  ]);
}
