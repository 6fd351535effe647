/** Searches for a short run that breaks a claim, or that meets its condition, from states that a simulation reached. */

import { type SmtSteps, smtSteps } from '../../logic/emit-smt.ts';
import { LogicError } from '../../logic/error.ts';
import type { LogicNode, NodeId, Program } from '../../logic/form.ts';
import { Bench, type Reached, replayInputs } from './explore.ts';
import type { Ask } from './induction.ts';
import type { Subject } from './subject.ts';
import { breaksAt } from './trace.ts';

/** What is searched for: a step in which `when` is true and, if given, `must` is false. */
export interface Goal {
  when: NodeId;
  must?: NodeId;
}

export interface SearchOptions {
  depths?: readonly number[];
  /** The search ends when this many goals are reached; by default all. */
  enough?: number;
}

/** Depths that are tried, in steps from a state of the pool: short ones first, because they are much cheaper. */
export const DEPTHS = [1, 2, 4];

/**
 * Looks for runs to as many of the goals as it can: all that are left are asked for together, until none is found any
 * more. What the solver gives is replayed before it is believed.
 */
export async function searchAll(
  subject: Subject,
  goals: readonly Goal[],
  pool: readonly Reached[],
  ask: Ask,
  options: SearchOptions = {},
): Promise<(Float64Array[] | null)[]> {
  const runs: (Float64Array[] | null)[] = goals.map(() => null);
  const { program, never } = withNever(subject.program);
  const bench = new Bench(
    program,
    goals.map(({ when, must }) => ({ when, must: must ?? never })),
  );
  const { depths = DEPTHS, enough = goals.length } = options;
  for (const depth of depths) {
    for (;;) {
      const left = goals.flatMap((goal, i) => (runs[i] === null ? [{ goal, i }] : []));
      if (left.length === 0 || goals.length - left.length >= enough) return runs;
      const found = await search(
        subject,
        left.map((l) => l.goal),
        pool,
        depth,
        ask,
      );
      if (found === null) break;
      const inputs = [...replayInputs(subject, found.from.seed, found.from.steps), ...found.inputs];
      const hit = left.filter(({ i }) => breaksAt(bench, i, inputs) >= 0);
      if (hit.length === 0) break;
      for (const { i } of hit) runs[i] = inputs;
    }
  }
  return runs;
}

interface Found {
  from: Reached;
  /** Inputs of the steps from there on. */
  inputs: Float64Array[];
}

/**
 * A run of at most `steps` steps from one of the states of the pool that reaches one of the goals; null if there is
 * none. The states were reached from switching on, so what is found is a real run.
 */
async function search(
  subject: Subject,
  goals: readonly Goal[],
  pool: readonly Reached[],
  steps: number,
  ask: Ask,
): Promise<Found | null> {
  const { program } = subject;
  const roots = goals.flatMap((g) => (g.must === undefined ? [g.when] : [g.when, g.must]));
  const smt = smtSteps(program, { steps, start: 'any', roots });
  const states = statesIn(subject, smt);
  const starts = new Map<string, Reached>();
  for (const reached of pool) {
    const equal = states.map(
      ({ symbol, node, state }) => `(= ${symbol} ${smt.literal(node, reached.state[state]!)})`,
    );
    const text = equal.length === 1 ? equal[0]! : `(and true ${equal.join(' ')})`;
    if (!starts.has(text)) starts.set(text, reached);
  }
  const hit = ({ when, must }: Goal, step: number) =>
    must === undefined
      ? smt.symbol(when, step)
      : `(and ${smt.symbol(when, step)} (not ${smt.symbol(must, step)}))`;
  const hits = Array.from({ length: steps }, (_, step) => goals.map((goal) => hit(goal, step))).flat();
  const text = `${smt.text}(assert (or false ${[...starts.keys()].join('\n')}))\n(assert (or false ${hits.join(' ')}))`;
  const answer = await ask(text, smt.free);
  if (answer.verdict !== 'sat') return null;
  const { start, inputs } = smt.trace(answer.values);
  const from = [...starts.values()].find((r) => states.every(({ state }) => r.state[state] === start[state]));
  return from === undefined ? null : { from, inputs };
}

/** The states that the goal depends on, with their symbols and the nodes that read them. */
function statesIn({ program }: Subject, smt: SmtSteps): { state: number; node: NodeId; symbol: string }[] {
  return program.nodes.flatMap((node, id) => {
    if (node.kind !== 'state') return [];
    try {
      return [{ state: node.state, node: id, symbol: smt.symbol(id, 0) }];
    } catch (error) {
      if (error instanceof LogicError) return [];
      throw error;
    }
  });
}

/** The program with a node that is never true: a claim that must be it is broken wherever its condition is met. */
function withNever(program: Program): { program: Program; never: NodeId } {
  const never: LogicNode = { kind: 'const', type: 'bool', lo: 0, hi: 0, name: '', value: 0 };
  return { program: { ...program, nodes: [...program.nodes, never] }, never: program.nodes.length };
}
