/** The plain reader of a logic program: slow, and meant to be checked by eye against form.ts. The others are compared with it. */
import { crc } from '../can/crc.ts';
import type { LogicNode, NodeId, Program } from './form.ts';
import { tableValue } from './table.ts';

export interface Interpreted {
  /** Value of every node, in the order of `program.nodes`; truth values as 0 and 1. */
  values: Float64Array;
  /** State after the step, in the order of `program.states`. */
  next: Float64Array;
  /** In the order of `program.outputs`. */
  outputs: Float64Array;
}

/** One step: every node's value for a state and inputs, which are read by position and must lie in their declared intervals. */
export function interpret(
  program: Program,
  state: ArrayLike<number>,
  inputs: ArrayLike<number>,
): Interpreted {
  const values = new Float64Array(program.nodes.length);
  program.nodes.forEach((node, id) => {
    values[id] = evaluate(node, (operand) => values[operand] as number, state, inputs);
  });
  return {
    values,
    next: Float64Array.from(program.states, (s) => values[s.next] as number),
    outputs: Float64Array.from(program.outputs, (o) => values[o.node] as number),
  };
}

/** The state before the first step. */
export function initialState(program: Program): Float64Array {
  return Float64Array.from(program.states, (s) => s.init);
}

/** Value of one node from the values of its operands. */
export function evaluate(
  n: LogicNode,
  v: (id: NodeId) => number,
  state: ArrayLike<number>,
  inputs: ArrayLike<number>,
): number {
  switch (n.kind) {
    case 'const':
      return n.value;
    case 'input':
      return inputs[n.input] as number;
    case 'state':
      return state[n.state] as number;
    case 'add':
      return v(n.a) + v(n.b);
    case 'sub':
      return v(n.a) - v(n.b);
    case 'min':
      return Math.min(v(n.a), v(n.b));
    case 'max':
      return Math.max(v(n.a), v(n.b));
    case 'mulk':
      return v(n.a) * n.k + 0;
    case 'divk':
      return Math.floor(v(n.a) / n.k);
    case 'wrap':
      return v(n.a) % 2 ** n.bits;
    case 'xor':
      return v(n.a) ^ v(n.b);
    case 'lt':
      return v(n.a) < v(n.b) ? 1 : 0;
    case 'le':
      return v(n.a) <= v(n.b) ? 1 : 0;
    case 'eq':
      return v(n.a) === v(n.b) ? 1 : 0;
    case 'and':
      return v(n.a) === 1 && v(n.b) === 1 ? 1 : 0;
    case 'or':
      return v(n.a) === 1 || v(n.b) === 1 ? 1 : 0;
    case 'not':
      return 1 - v(n.a);
    case 'select':
      return v(n.when) === 1 ? v(n.yes) : v(n.no);
    case 'clockSub': {
      const elapsed = v(n.a) - v(n.b);
      return Math.min(elapsed < 0 ? elapsed + 2 ** 32 : elapsed, n.hi);
    }
    case 'table':
      return tableValue(n.table, v(n.a));
    case 'crc':
      return crc(n, n.bytes.map(v));
  }
}
