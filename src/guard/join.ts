/** Joins programs: one is appended to another, reading its inputs, outputs or states, without changing a node of it. */

import { LogicError } from '../logic/error.ts';
import type { LogicNode, NodeId, Program } from '../logic/form.ts';
import { intervalOf } from '../logic/interval.ts';

/** What an input of the appended program reads. */
export type Reads = 'inputsAndOutputs' | 'states';

/**
 * A program that computes `base` and then `extra` in the same step. Each input of `extra` reads what has its name in
 * `base`: an input or output, or a state (its value before the step). The nodes of `base` stand unchanged at the
 * beginning of the list, so what holds of the whole holds of `base` alone. States and outputs of `extra` are added.
 *
 * Throws `LogicError` where a name is missing, is taken twice, or reaches outside the interval of the input that reads it.
 */
export function join(base: Program, extra: Program, reads: Reads): Program {
  const nodes = base.nodes.slice();
  const at: NodeId[] = [];
  const nodeOf = (id: NodeId) => nodes[id] as LogicNode;
  extra.nodes.forEach((node, id) => {
    if (node.kind === 'input') {
      at[id] = source(base, extra, node.input, reads);
      return;
    }
    const moved = renumbered(node, at);
    if (moved.kind === 'state') moved.state += base.states.length;
    else Object.assign(moved, intervalOf(moved, nodeOf));
    at[id] = nodes.push(moved) - 1;
  });
  const states = extra.states.map((s) => {
    if (base.states.some((other) => other.name === s.name))
      throw new LogicError(`programs ${base.name} and ${extra.name} both have a state ${s.name}`);
    return { ...s, next: at[s.next] as NodeId };
  });
  const outputs = extra.outputs.map((o) => {
    if (base.outputs.some((other) => other.name === o.name))
      throw new LogicError(`programs ${base.name} and ${extra.name} both have an output ${o.name}`);
    return { ...o, node: at[o.node] as NodeId };
  });
  return {
    name: base.name,
    note: base.note,
    inputs: base.inputs,
    states: [...base.states, ...states],
    nodes,
    outputs: [...base.outputs, ...outputs],
  };
}

function source(base: Program, extra: Program, input: number, reads: Reads): NodeId {
  const def = extra.inputs[input]!;
  const id =
    reads === 'states'
      ? base.nodes.findIndex((n) => n.kind === 'state' && base.states[n.state]?.name === def.name)
      : (base.outputs.find((o) => o.name === def.name)?.node ??
        base.nodes.findIndex((n) => n.kind === 'input' && base.inputs[n.input]?.name === def.name));
  const node = base.nodes[id];
  if (!node)
    throw new LogicError(`program ${base.name} has nothing named ${def.name} for ${extra.name} to read`);
  if (node.type !== def.type || node.lo < def.lo || node.hi > def.hi)
    throw new LogicError(
      `${extra.name} reads ${def.name} as ${def.lo} … ${def.hi}; in ${base.name} it is ${node.lo} … ${node.hi}`,
    );
  return id;
}

/** A copy of a node whose operands are where they were moved to. */
export function renumbered(node: LogicNode, at: readonly NodeId[]): LogicNode {
  const to = (id: NodeId) => at[id] as NodeId;
  switch (node.kind) {
    case 'const':
    case 'input':
    case 'state':
      return { ...node };
    case 'mulk':
    case 'divk':
    case 'wrap':
    case 'not':
    case 'table':
      return { ...node, a: to(node.a) };
    case 'select':
      return { ...node, when: to(node.when), yes: to(node.yes), no: to(node.no) };
    case 'crc':
      return { ...node, bytes: node.bytes.map(to) };
    default:
      return { ...node, a: to(node.a), b: to(node.b) };
  }
}
