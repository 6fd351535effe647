/** Searches for a short run that breaks a claim, or that meets its condition, from states that a simulation reached. */

import { type SmtSteps, smtSteps } from '../../logic/emit-smt.ts';
import { LogicError } from '../../logic/error.ts';
import type { NodeId } from '../../logic/form.ts';
import type { Reached } from './explore.ts';
import type { Ask } from './induction.ts';
import type { Subject } from './subject.ts';

export interface Found {
  from: Reached;
  /** Inputs of the steps from there on. */
  inputs: Float64Array[];
}

/**
 * A run of at most `steps` steps from one of the states of the pool in which `when` is true and, if given, `must` is
 * false; null if there is none. The states were reached from switching on, so what is found is a real run.
 */
export async function search(
  subject: Subject,
  goal: { when: NodeId; must?: NodeId },
  pool: readonly Reached[],
  steps: number,
  ask: Ask,
): Promise<Found | null> {
  const { program } = subject;
  const roots = goal.must === undefined ? [goal.when] : [goal.when, goal.must];
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
  const hit = (step: number) =>
    goal.must === undefined
      ? smt.symbol(goal.when, step)
      : `(and ${smt.symbol(goal.when, step)} (not ${smt.symbol(goal.must, step)}))`;
  const hits = Array.from({ length: steps }, (_, step) => hit(step));
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
