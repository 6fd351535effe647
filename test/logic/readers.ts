/** The readers of a program driven side by side, for the tests that compare them. */
import { type SmtSteps, smtSteps } from '../../src/logic/emit-smt.ts';
import type { LogicNode, NodeId, Program } from '../../src/logic/form.ts';
import { intervalOf } from '../../src/logic/interval.ts';
import { comparedTerm, shapeOf } from '../../src/logic/smt-term.ts';
import type { Solver } from '../../src/logic/solver.ts';
import type { Point } from './programs.ts';

/**
 * For each point: every node's value in each step, and the state after the last, as the solver computes them from the
 * emitted text; null if the text contradicts itself. `alter` changes that text first.
 */
export async function solvedSteps(
  solver: Solver,
  program: Program,
  points: readonly Point[],
  alter: (text: string) => string = (text) => text,
): Promise<number[][][] | null> {
  const nodes = [...program.nodes.keys()];
  const states = [...program.states.keys()];
  const steps = points[0]!.inputs.map((_, step) => step);
  const runs = points.map(({ state, inputs }, k) => {
    const smt = smtSteps(program, {
      steps: steps.length,
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
    ...steps.flatMap((step) => nodes.map((id) => smt.symbol(id, step))),
    ...states.map((s) => smt.stateSymbol(s, steps.length)),
  ]);
  const answer = await solver.check(runs.map((r) => r.text).join(''), { values: [...new Set(symbols)] });
  if (answer.verdict !== 'sat') return null;
  const value = (symbol: string) => answer.values.get(symbol) as bigint;
  return runs.map(({ smt }) => [
    ...steps.map((step) => nodes.map((id) => smt.decode(id, value(smt.symbol(id, step))))),
    states.map((s) => smt.decodeState(s, value(smt.stateSymbol(s, steps.length)))),
  ]);
}

/** Whether the emitted text, altered, gives every node the values given for one step at each point. */
export async function agrees(
  solver: Solver,
  program: Program,
  points: readonly (Point & { values: ArrayLike<number> })[],
  alter: (text: string) => string,
): Promise<boolean> {
  const nodes = [...program.nodes.keys()];
  const texts = points.map(({ state, values }, k) => {
    const smt = smtSteps(program, { steps: 1, start: state, roots: nodes, prefix: `p${k}.` });
    const given = new Map<string, string>();
    const same: string[] = [];
    program.nodes.forEach((n, id) => {
      const [symbol, value] = [smt.symbol(id), smt.literal(id, values[id] as number)];
      if (n.kind === 'input') given.set(symbol, value);
      else if (n.kind !== 'const' && n.kind !== 'state') same.push(`(= ${symbol} ${value})`);
    });
    // Inputs as definitions, so that the solver only has to compute.
    const text = alter(smt.text).replace(
      /\(declare-const (\S+) (.*)\)/g,
      (_, symbol, sort) => `(define-fun ${symbol} () ${sort} ${given.get(symbol)})`,
    );
    return `${text}(assert (and ${same.join(' ')}))\n`;
  });
  return (await solver.check(texts.join(''))).verdict === 'sat';
}

/** The program with another number in one of its constants, and the intervals that follow. */
export function withConstant(program: Program, id: NodeId, value: number): Program {
  const altered = structuredClone(program);
  Object.assign(altered.nodes[id] as LogicNode, { value });
  for (const node of altered.nodes)
    Object.assign(
      node,
      intervalOf(node, (a) => altered.nodes[a] as LogicNode),
    );
  return altered;
}

/** Whether two programs of the same inputs, states and outputs give the same from any state and inputs, by the solver. */
export async function sameProgram(solver: Solver, first: Program, second: Program): Promise<boolean> {
  const sides = [first, second].map((p, k) => {
    const roots = [...p.outputs.map((o) => o.node), ...p.states.map((s) => s.next)];
    const smt = smtSteps(p, { steps: 1, start: 'any', roots, prefix: `side${k}.` });
    return {
      smt,
      results: roots.map((id) => ({ term: smt.symbol(id), shape: shapeOf(p.nodes[id] as LogicNode) })),
    };
  }) as [Side, Side];
  const shared = sides[0].smt.free.map((name, i) => `(assert (= ${name} ${sides[1].smt.free[i]}))`);
  const same = sides[0].results.map((a, i) => {
    const b = sides[1].results[i] as Side['results'][number];
    return a.shape.kind === 'bool' ? `(= ${a.term} ${b.term})` : comparedTerm('eq', a, b);
  });
  const text = [...sides.map((s) => s.smt.text), ...shared, `(assert (not (and ${same.join(' ')})))`];
  return (await solver.check(text.join('\n'))).verdict === 'unsat';
}

interface Side {
  smt: SmtSteps;
  results: { term: string; shape: ReturnType<typeof shapeOf> }[];
}
