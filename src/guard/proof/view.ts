/**
 * What a query needs to see of a guard. A query about one channel does not look at how the others come by their orders: it
 * lets them order anything. So its text stays the same when a table of another channel is edited, it is smaller, and
 * its verdict can be kept.
 *
 * A view only ever allows more than the guard does: an order that is let free takes every value that its unit can count,
 * the state that remembers it likewise, and fewer statements are assumed. What is shown in a view therefore holds of the
 * guard; what is not shown in a view is asked again of the whole.
 *
 * Assuming fewer statements is sound because all statements that are kept are inductive together. Let I be their
 * conjunction with the declared ranges. I holds at the start, and each query shows "J and a step give s", where s is one
 * of the statements and J some part of I; as I implies J, I and a step give every s, so that I holds in every reachable
 * state, and a claim that follows from a part of I holds in every step of every run.
 */
import type { LogicNode, NodeId, Program } from '../../logic/form.ts';
import { cone } from '../../logic/graph.ts';
import { canonical } from '../../logic/hash.ts';
import { intervalOf } from '../../logic/interval.ts';
import { CHANNELS, type ChannelKey } from '../channels/plan.ts';
import type { ChannelFigures } from '../figures.ts';
import { renumbered } from '../join.ts';
import type { Statement, Subject } from './subject.ts';

/** Channels whose orders and level a query sees as they are made; null: those of all of them. */
export type Sees = readonly ChannelKey[] | null;

/** A program that a query sees instead of the subject's, and where the subject's nodes stand in it. */
export interface View {
  program: Program;
  at: (node: NodeId) => NodeId;
}

/**
 * The program in which the orders of channels outside `sees` are free. Their level tables, which arming reads too, become
 * functions of which nothing is known but that one speed gives one level: the first reading is a free value, and each
 * further one is the first where the speeds are equal, and free where they are not.
 */
export function viewOf({ program, figures }: Pick<Subject, 'program' | 'figures'>, sees: Sees): View {
  const cut = figures.channels.filter((c) => sees !== null && !sees.includes(c.key));
  const orders = new Map<string, ChannelFigures>(cut.map((c) => [`${c.key}_order_now`, c]));
  if (!program.nodes.some((node) => orders.has(node.name))) return { program, at: (node) => node };
  const inputs = program.inputs.slice();
  const nodes: LogicNode[] = [];
  const states = program.states.map((state) => {
    const c = cut.find(({ key }) => state.name === `${key}_held`);
    return c ? { ...state, ...reachOf(c, state) } : state;
  });
  const free = (name: string, reach: { lo: number; hi: number }): LogicNode => {
    const input = inputs.push({ name: `free_${name}`, type: 'int', ...reach, note: '' }) - 1;
    return { kind: 'input', type: 'int', ...reach, name: '', input };
  };
  const add = (node: LogicNode): NodeId =>
    nodes.push(
      Object.assign(
        node,
        intervalOf(node, (a) => nodes[a] as LogicNode),
      ),
    ) - 1;
  const read = new Map<string, { speed: NodeId; level: NodeId }>();
  const at: NodeId[] = [];
  program.nodes.forEach((node, id) => {
    const ordered = orders.get(node.name);
    const tabled = node.kind === 'table' ? cut.find((c) => node.table.name === `${c.key}_level`) : undefined;
    if (ordered) at[id] = add(free(`${ordered.key}_order`, reachOf(ordered, node)));
    else if (tabled && node.kind === 'table') {
      const speed = at[node.a] as NodeId;
      const key = canonical(node.table);
      const first = read.get(key);
      const level = add(
        free(`${tabled.key}_level_${inputs.length}`, { lo: 0, hi: reachOf(tabled, node).hi }),
      );
      if (!first) read.set(key, { speed, level });
      const bool = { type: 'bool', lo: 0, hi: 1, name: '' } as const;
      const int = { type: 'int', lo: 0, hi: 0, name: '' } as const;
      at[id] = first
        ? add({
            ...int,
            kind: 'select',
            when: add({ ...bool, kind: 'eq', a: first.speed, b: speed }),
            yes: first.level,
            no: level,
          })
        : level;
    } else {
      const moved = renumbered(node, at);
      if (moved.kind === 'state') Object.assign(moved, boundsOf(states[moved.state]!));
      at[id] = add(moved);
    }
  });
  return {
    program: {
      ...program,
      inputs,
      states: states.map((state) => ({ ...state, next: at[state.next] as NodeId })),
      outputs: program.outputs.map((output) => ({ ...output, node: at[output.node] as NodeId })),
      nodes,
    },
    at: (node) => at[node] as NodeId,
  };
}

/** What an order can be at most in its unit, whatever the figures are, and no less than what it is. */
function reachOf(c: ChannelFigures, { lo, hi }: { lo: number; hi: number }): { lo: number; hi: number } {
  const reach = Math.max(c.reach, hi, -lo);
  return { lo: c.sides === 'both' || lo < 0 ? -reach : 0, hi: reach };
}

function boundsOf({ lo, hi }: { lo: number; hi: number }): { lo: number; hi: number } {
  return { lo, hi };
}

/**
 * Those of the statements that speak of nothing but states which the roots read, by way of `steps` steps, and of the states
 * of the channels in `sees`; and not of tables of other channels.
 */
export function touching(
  { program, at }: View,
  statements: readonly Statement[],
  roots: Iterable<NodeId>,
  { sees, steps }: { sees: Sees; steps: number },
): Assumed[] {
  let read = statesRead(program, [...roots].map(at));
  for (let step = 1; step < steps; step++)
    read = statesRead(
      program,
      [...read].map((state) => program.states[state]!.next),
    );
  const near = (state: number) => {
    const words = program.states[state]!.name.split('_');
    return read.has(state) || (sees ?? CHANNELS).some((key) => words.includes(key));
  };
  return statements.flatMap((s) => {
    const usable = !s.ofTables || sees === null || (s.sees ?? CHANNELS).every((key) => sees.includes(key));
    const node = at(s.node);
    return usable && [...statesRead(program, [node])].every(near) ? [{ node }] : [];
  });
}

/** A statement that a query takes for granted, by its node in the view. */
export type Assumed = Pick<Statement, 'node'>;

function statesRead(program: Program, roots: Iterable<NodeId>): Set<number> {
  const states = new Set<number>();
  for (const id of cone(program, roots)) {
    const node = program.nodes[id]!;
    if (node.kind === 'state') states.add(node.state);
  }
  return states;
}
