/** Small changes to the C of a gateway, each of which must be noticed: through its programs, and in the text around them. */
import type { LogicNode, NodeId, Program } from '../../src/logic/form.ts';
import { cone, results } from '../../src/logic/graph.ts';
import { intervalOf } from '../../src/logic/interval.ts';
import { makeTable } from '../../src/logic/table.ts';

/** A program with one node or one first value changed. */
export interface ProgramMutant {
  /** The change in words. */
  tell(): string;
  /** The changed node; null for a change of the state after switching on. */
  node: NodeId | null;
  program: Program;
}

type Change = [what: string, node: LogicNode];

/** Every mutant of a program: operators, limits, factors, tables, check parameters, first values. */
export function programMutants(program: Program): ProgramMutant[] {
  const used = cone(program, results(program));
  const byNode = used.flatMap((id) =>
    changesOf(program.nodes[id] as LogicNode).map(([what, node]) => ({
      tell: () => `${program.name}, ${nodeText(program, id)}: ${what}`,
      node: id,
      program: withNode(program, id, node),
    })),
  );
  const byInit = program.states.flatMap((state, k) =>
    [state.init + 1, state.init - 1]
      .filter((init) => init >= state.lo && init <= state.hi)
      .map((init) => ({
        tell: () => `${program.name}, state ${state.name} starts at ${init} instead of ${state.init}`,
        node: null,
        program: { ...program, states: program.states.map((s, i) => (i === k ? { ...s, init } : s)) },
      })),
  );
  return [...byNode, ...byInit];
}

/** Two programs in one, with a node that says that they agree. */
export interface Miter {
  program: Program;
  same: NodeId;
}

const BOOL = { type: 'bool', lo: 0, hi: 1, name: '' } as const;

/**
 * Both programs over the same inputs: do they say and keep the same? Over the same states, or (`first`) each over its
 * own, to be asked about from the states after switching on.
 */
export function miter(a: Program, b: Program, start: 'any' | 'first'): Miter {
  const nodes: LogicNode[] = [];
  const shared = new Map<string, NodeId>();
  const put = (node: LogicNode) => nodes.push(node) - 1;
  const once = (key: string, node: LogicNode) => {
    const id = shared.get(key) ?? put(node);
    shared.set(key, id);
    return id;
  };
  const copied = (program: Program, firstState: number) => {
    const at: NodeId[] = [];
    for (const node of program.nodes) {
      if (node.kind === 'input') at.push(once(`input ${node.input}`, node));
      else if (node.kind === 'state') {
        const state = node.state + firstState;
        at.push(once(`state ${state}`, { ...node, state }));
      } else at.push(put(moved(node, at)));
    }
    return results(program).map((id) => at[id] as NodeId);
  };
  const ours = copied(a, 0);
  const theirs = copied(b, start === 'any' ? 0 : a.states.length);
  const same = ours
    .map((id, i) => put({ ...BOOL, kind: 'eq', a: id, b: theirs[i] as number }))
    .reduce((x, y) => put({ ...BOOL, kind: 'and', a: x, b: y }));
  const others = start === 'any' ? [] : b.states.map((s) => ({ ...s, name: `other_${s.name}` }));
  return { program: { ...a, nodes, states: [...a.states, ...others], outputs: [] }, same };
}

/** Whether the changed node alone ever has another value than before, whatever the rest makes of it. */
export function nodeMiter(original: Program, changed: Program, id: NodeId): Miter {
  const nodes = [...original.nodes];
  const node = { ...(changed.nodes[id] as LogicNode) };
  Object.assign(
    node,
    intervalOf(node, (k) => nodes[k] as LogicNode),
  );
  const other = nodes.push(node) - 1;
  const same = nodes.push({ ...BOOL, kind: 'eq', a: id, b: other }) - 1;
  return { program: { ...original, nodes }, same };
}

const SWAPS: Partial<Record<LogicNode['kind'], LogicNode['kind']>> = {
  add: 'sub',
  sub: 'add',
  min: 'max',
  max: 'min',
  lt: 'le',
  le: 'lt',
  and: 'or',
  or: 'and',
};

function changesOf(node: LogicNode): Change[] {
  const near = (k: number) => [k + 1, k - 1].filter((v) => v > 0);
  const swapped = SWAPS[node.kind];
  if (swapped !== undefined)
    return [[`${node.kind} becomes ${swapped}`, { ...node, kind: swapped } as LogicNode]];
  switch (node.kind) {
    case 'const':
      if (node.type === 'bool')
        return [[`${node.value} becomes ${1 - node.value}`, constant(node, 1 - node.value)]];
      return [node.value + 1, node.value - 1].map((v) => [`${node.value} becomes ${v}`, constant(node, v)]);
    case 'mulk':
      return [node.k + 1, node.k - 1].map((k) => [`factor ${node.k} becomes ${k}`, { ...node, k }]);
    case 'divk':
      return near(node.k).map((k) => [`divisor ${node.k} becomes ${k}`, { ...node, k }]);
    case 'wrap':
      return near(node.bits).map((bits) => [`${node.bits} bits become ${bits}`, { ...node, bits }]);
    case 'not':
      return [['not is left out', { ...node, kind: 'and', a: node.a, b: node.a }]];
    case 'select':
      return [['the choices change places', { ...node, yes: node.no, no: node.yes }]];
    case 'eq':
      return node.type === 'bool' ? [['eq becomes always true', { ...node, b: node.a }]] : [];
    case 'xor':
      return [['xor becomes add', { ...node, kind: 'add' }]];
    case 'clockSub':
      return [['the clock readings change places', { ...node, a: node.b, b: node.a }]];
    case 'table':
      return tableChanges(node);
    case 'crc': {
      const { poly, init, xorout } = node;
      return [
        ['another polynomial', { ...node, poly: poly ^ 2 }],
        ['another start value', { ...node, init: init ^ 1 }],
        ['another final exclusive-or', { ...node, xorout: xorout ^ 1 }],
        ['bits the other way round', { ...node, reflected: !node.reflected }],
        ['bytes the other way round', { ...node, bytes: [...node.bytes].reverse() }],
      ];
    }
    default:
      return [];
  }
}

function tableChanges(node: LogicNode & { kind: 'table' }): Change[] {
  const { x, y, name } = node.table;
  return x.flatMap((_, i) =>
    (['x', 'y'] as const).flatMap((column) =>
      [1, -1].flatMap((by): Change[] => {
        const points = x.map((v, k): [number, number] => [
          v + (column === 'x' && k === i ? by : 0),
          (y[k] as number) + (column === 'y' && k === i ? by : 0),
        ]);
        if (points.some(([px, py]) => px < 0 || py < 0)) return [];
        return [
          [
            `${column} of point ${i + 1} ${by > 0 ? 'more' : 'less'} by 1`,
            { ...node, table: makeTable(name, points) },
          ],
        ];
      }),
    ),
  );
}

function constant(node: LogicNode, value: number): LogicNode {
  return { ...node, kind: 'const', value, lo: value, hi: value } as LogicNode;
}

/** The program with one node changed, its interval as it was: C is written from it as if nothing had happened. */
function withNode(program: Program, id: NodeId, node: LogicNode): Program {
  const { lo, hi } = program.nodes[id] as LogicNode;
  return { ...program, nodes: program.nodes.map((n, i) => (i === id ? { ...node, lo, hi } : n)) };
}

/** The program with the intervals that its nodes really have. */
export function withIntervals(program: Program): Program {
  const nodes = program.nodes.map((n) => ({ ...n }));
  for (const n of nodes)
    if (n.kind !== 'input' && n.kind !== 'state')
      Object.assign(
        n,
        intervalOf(n, (k) => nodes[k] as LogicNode),
      );
  return { ...program, nodes };
}

function moved(node: LogicNode, at: readonly NodeId[]): LogicNode {
  const copy = { ...node } as Record<string, unknown>;
  for (const field of ['a', 'b', 'when', 'yes', 'no'])
    if (typeof copy[field] === 'number') copy[field] = at[copy[field] as number];
  if (node.kind === 'crc') copy.bytes = node.bytes.map((id) => at[id]);
  return copy as unknown as LogicNode;
}

function nodeText(program: Program, id: NodeId): string {
  const node = program.nodes[id] as LogicNode;
  const user = program.nodes.findIndex((n, i) => i > id && n.name !== '' && cone(program, [i]).includes(id));
  const near = node.name || (user >= 0 ? `in ${program.nodes[user]?.name}` : 'near the end');
  return `node ${id} (${near})`;
}

/** A file of C with one token changed. */
export interface TextMutant {
  where: string;
  before: string;
  after: string;
  source: string;
}

const TOKENS: Record<string, string> = {
  '<=': '<',
  '>=': '>',
  '<': '<=',
  '>': '>=',
  '==': '!=',
  '!=': '==',
  '&&': '||',
  '||': '&&',
  '+': '-',
  '-': '+',
  '*': '+',
  '/': '*',
  '%': '/',
  '^': '|',
  true: 'false',
  false: 'true',
};

/**
 * Every mutant of the functions and tables whose name `wanted` accepts: each operator and truth value replaced, each
 * integer one larger and one smaller, outside comments, strings, preprocessor lines and CRC tables.
 */
export function textMutants(source: string, wanted: (name: string) => boolean): TextMutant[] {
  const mutants: TextMutant[] = [];
  let where = '';
  let at = 0;
  for (const line of source.split('\n')) {
    const start = at;
    at += line.length + 1;
    const head = /^(?:static )?(?:const )?(?:struct )?[a-z0-9_]+ \*?([a-z0-9_]+)(?:\(|\[)/.exec(line);
    if (head) where = head[1] as string;
    if (/^} ([a-z_]+)\[/.test(line)) where = /^} ([a-z_]+)\[/.exec(line)?.[1] as string;
    if (!wanted(where) || where.endsWith('_table') || /^\s*(#|\/\*|\*)/.test(line) || head) continue;
    const code = line.replace(/\/\*.*?\*\/|"[^"]*"/g, (c) => ' '.repeat(c.length));
    for (const match of code.matchAll(
      /->|\+\+|[<>=!]=|&&|\|\||(?<= )[<>+*/%^-](?= )|(?<=[ (])-(?=[a-z])|\b0x[0-9A-F]+u?\b|\b\d+u?\b|\btrue\b|\bfalse\b/g,
    )) {
      const token = match[0];
      if (token === '->' || token === '++') continue;
      for (const after of /^\d/.test(token) ? neighbours(token) : [TOKENS[token] as string]) {
        const place = start + match.index;
        mutants.push({
          where,
          before: line.trim(),
          after: (line.slice(0, match.index) + after + line.slice(match.index + token.length)).trim(),
          source: source.slice(0, place) + after + source.slice(place + token.length),
        });
      }
    }
  }
  return mutants;
}

function neighbours(text: string): string[] {
  const unsigned = text.endsWith('u') ? 'u' : '';
  const value = Number(unsigned ? text.slice(0, -1) : text);
  return value === 0 ? [`1${unsigned}`] : [`${value + 1}${unsigned}`, `${value - 1}${unsigned}`];
}
