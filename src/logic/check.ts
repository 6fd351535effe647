/** Checks a program that did not come straight from the builder: order, references, types and intervals. */
import { CLOCK_MAX, INT_MAX } from './error.ts';
import type { LogicNode, Program, Table } from './form.ts';
import { operands } from './graph.ts';
import { intervalOf } from './interval.ts';
import { makeTable } from './table.ts';

/** One sentence for each thing wrong; empty for a program that every reader may trust. */
export function checkProgram(program: Program): string[] {
  const problems: string[] = [];
  program.nodes.forEach((node, id) => {
    const wrong = nodeProblem(program, node, id);
    if (wrong) problems.push(`program ${program.name}, node ${id} (${node.name || node.kind}): ${wrong}`);
  });
  program.states.forEach((s) => {
    const next = program.nodes[s.next];
    const where = `program ${program.name}, state ${s.name}:`;
    if (!next) problems.push(`${where} its next value is node ${s.next}, which does not exist`);
    else if (next.type !== s.type) problems.push(`${where} its next value has the wrong type`);
    else if (next.hi > INT_MAX !== s.hi > INT_MAX)
      problems.push(`${where} a clock reading is kept in a clock state, and nothing else is`);
    if (!(s.init >= s.lo && s.init <= s.hi))
      problems.push(`${where} it starts at ${s.init}, outside ${s.lo} … ${s.hi}`);
  });
  for (const o of program.outputs) {
    if (!program.nodes[o.node])
      problems.push(`program ${program.name}, output ${o.name}: node ${o.node} does not exist`);
  }
  return problems;
}

function nodeProblem(program: Program, node: LogicNode, id: number): string | null {
  const read = operands(node);
  if (read.some((operand) => !(operand >= 0 && operand < id))) return 'an operand does not stand before it';
  const nodeOf = (operand: number) => program.nodes[operand] as LogicNode;
  if (node.kind === 'input' || node.kind === 'state') {
    const def = node.kind === 'input' ? program.inputs[node.input] : program.states[node.state];
    if (!def) return `there is no such ${node.kind}`;
    if (def.lo !== node.lo || def.hi !== node.hi || def.type !== node.type)
      return `its type and interval differ from those declared for ${def.name}`;
    const clock = def.lo === 0 && def.hi === CLOCK_MAX;
    return clock || (def.lo >= -INT_MAX && def.hi <= INT_MAX && def.lo <= def.hi)
      ? null
      : `its interval ${def.lo} … ${def.hi} is not one of 32 bits`;
  }
  if (!typesFit(node, read.map(nodeOf)))
    return 'an operand has the wrong type, or a sign that it must not have';
  const { lo, hi } = intervalOf(node, nodeOf);
  if (lo !== node.lo || hi !== node.hi) return `its interval is ${lo} … ${hi}, not ${node.lo} … ${node.hi}`;
  if (!Number.isInteger(lo) || !Number.isInteger(hi)) return 'it is not an integer';
  if (node.type === 'bool' && (lo < 0 || hi > 1)) return `a truth value cannot be ${lo} … ${hi}`;
  if (node.kind === 'table' && !slopesFit(node.table)) return 'its slopes are not those of its points';
  return lo >= -INT_MAX && hi <= INT_MAX ? null : `it can reach ${lo} … ${hi}, outside 32 bits`;
}

function slopesFit(table: Table): boolean {
  try {
    const made = makeTable(
      table.name,
      table.x.map((x, i): [number, number] => [x, table.y[i] ?? Number.NaN]),
    );
    return made.m.length === table.m.length && made.m.every((m, i) => m === table.m[i]);
  } catch {
    return false;
  }
}

function typesFit(node: LogicNode, read: LogicNode[]): boolean {
  const ints = read.every((n) => n.type === 'int' && n.hi <= INT_MAX);
  const bools = read.every((n) => n.type === 'bool');
  switch (node.kind) {
    case 'and':
    case 'or':
    case 'not':
      return bools && node.type === 'bool';
    case 'eq':
      return (ints || bools) && node.type === 'bool';
    case 'lt':
    case 'le':
      return ints && node.type === 'bool';
    case 'select': {
      const [when, yes, no] = read as [LogicNode, LogicNode, LogicNode];
      return when.type === 'bool' && yes.type === no.type && node.type === yes.type;
    }
    case 'divk':
    case 'wrap':
    case 'xor':
    case 'table':
      return ints && read.every((n) => n.lo >= 0);
    case 'crc':
      return ints && read.every((n) => n.lo >= 0 && n.hi <= 255);
    case 'clockSub':
      return read.every((n) => (n.kind === 'input' || n.kind === 'state') && n.hi === CLOCK_MAX);
    default:
      return node.kind === 'const' || ints;
  }
}
