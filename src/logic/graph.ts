/** Questions about the shape of a program: what a node reads, what a set of nodes depends on, where a name stands. */
import { LogicError } from './error.ts';
import type { LogicNode, NodeId, Program } from './form.ts';

/** The nodes that a node reads, in the order of its fields; a node may stand there twice. */
export function operands(node: LogicNode): NodeId[] {
  switch (node.kind) {
    case 'const':
    case 'input':
    case 'state':
      return [];
    case 'mulk':
    case 'divk':
    case 'wrap':
    case 'not':
    case 'table':
      return [node.a];
    case 'select':
      return [node.when, node.yes, node.no];
    case 'crc':
      return node.bytes;
    default:
      return [node.a, node.b];
  }
}

/** Every node that the roots depend on within one step, the roots included, in the order of the program. */
export function cone(program: Program, roots: Iterable<NodeId>): NodeId[] {
  const needed = new Uint8Array(program.nodes.length);
  for (const id of roots) needed[id] = 1;
  for (let id = needed.length - 1; id >= 0; id--) {
    if (needed[id]) for (const operand of operands(program.nodes[id] as LogicNode)) needed[operand] = 1;
  }
  return [...needed.keys()].filter((id) => needed[id]);
}

/** The nodes that a step must leave behind: outputs and next states. */
export function results(program: Program): NodeId[] {
  return [...program.outputs.map((o) => o.node), ...program.states.map((s) => s.next)];
}

/** Position of an input. Throws `LogicError` if there is none of this name. */
export function inputIndex(program: Program, name: string): number {
  return position(program, 'input', program.inputs, name);
}

/** Position of a state. Throws `LogicError` if there is none of this name. */
export function stateIndex(program: Program, name: string): number {
  return position(program, 'state', program.states, name);
}

/** Position of an output. Throws `LogicError` if there is none of this name. */
export function outputIndex(program: Program, name: string): number {
  return position(program, 'output', program.outputs, name);
}

function position(program: Program, what: string, list: readonly { name: string }[], name: string): number {
  const index = list.findIndex((item) => item.name === name);
  if (index >= 0) return index;
  throw new LogicError(
    `program ${program.name} has no ${what} ${name}; it has ${list.map((item) => item.name).join(', ') || 'none'}`,
  );
}
