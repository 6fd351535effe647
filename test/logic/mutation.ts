/** Small faults put into generated text on purpose, and points at which a fault should show. */
import type { LogicNode, Program } from '../../src/logic/form.ts';
import { interpret } from '../../src/logic/interpret.ts';
import { drawPoints, type Point, random } from './programs.ts';

/** One replacement at one place: the n-th match of a pattern. */
export interface Mutant {
  pattern: RegExp;
  replacement: (match: string) => string;
  occurrence: number;
  /** The line before and after, for the report and for arguments of equivalence. */
  before: string;
  after: string;
}

export interface MutationRule {
  pattern: RegExp;
  replacement: (match: string) => string;
}

/** A replacement of each by its partner. */
export function swap(...pairs: [string, string][]): (match: string) => string {
  const partner = new Map([...pairs, ...pairs.map(([a, b]): [string, string] => [b, a])]);
  return (match) => partner.get(match) as string;
}

/** `count` mutants of a text, drawn by a seed without repetition out of all that the rules allow. */
export function drawMutants(
  text: string,
  rules: readonly MutationRule[],
  count: number,
  seed: number,
): Mutant[] {
  const all = rules.flatMap((rule) =>
    [...text.matchAll(rule.pattern)].map((_, occurrence) => ({ ...rule, occurrence })),
  );
  const below = random(seed);
  for (let i = all.length - 1; i > 0; i--) {
    const k = below(i + 1);
    [all[i], all[k]] = [all[k]!, all[i]!];
  }
  return all.slice(0, count).map((site) => {
    const lines = text.split('\n');
    const altered = alter(text, site).split('\n');
    const at = altered.findIndex((line, i) => line !== lines[i]);
    return { ...site, before: lines[at]!.trim(), after: altered[at]!.trim() };
  });
}

export function alter(text: string, m: Pick<Mutant, 'pattern' | 'replacement' | 'occurrence'>): string {
  let seen = 0;
  return text.replace(m.pattern, (match) => (seen++ === m.occurrence ? m.replacement(match) : match));
}

/** Points that take one input through all its values, the rest drawn. */
export function everyValue(program: Program, input: string, seed: number): Point[] {
  const at = program.inputs.findIndex((i) => i.name === input);
  const { lo, hi } = program.inputs[at]!;
  return drawPoints(program, hi - lo + 1, seed).map(({ state, inputs }, i) => ({
    state,
    inputs: [inputs[0]!.with(at, lo + i)],
  }));
}

/** A few of the points that between them bring every comparison to equality and one beside it, every choice to both sides, every table to its segments, every division to its remainders. */
export function tellingPoints(program: Program, candidates: readonly Point[]): Point[] {
  const open = new Set<string>();
  const useful = candidates
    .map((point) => ({ point, features: featuresOf(program, point) }))
    .filter(({ features }) => {
      const before = open.size;
      for (const f of features) open.add(f);
      return open.size > before;
    });
  const chosen: Point[] = [];
  while (open.size > 0) {
    const gains = useful.map(({ features }) => features.filter((f) => open.has(f)).length);
    const { point, features } = useful[gains.indexOf(Math.max(...gains))]!;
    for (const f of features) open.delete(f);
    chosen.push(point);
  }
  return chosen;
}

function featuresOf(program: Program, { state, inputs }: Point): string[] {
  const { values } = interpret(program, state, inputs[0]!);
  return program.nodes.flatMap((n, id) => {
    const feature = featureOf(n, (operand) => values[operand]!);
    return feature === null ? [] : [`${id} ${feature}`];
  });
}

function featureOf(n: LogicNode, v: (id: number) => number): string | null {
  switch (n.kind) {
    case 'lt':
    case 'le':
    case 'eq':
    case 'min':
    case 'max':
      return `${Math.max(-2, Math.min(2, v(n.a) - v(n.b)))}`;
    case 'and':
    case 'or':
      return `${v(n.a)}${v(n.b)}`;
    case 'select':
      return `${v(n.when)}`;
    case 'not':
      return `${v(n.a)}`;
    case 'divk':
      return `${Math.min(2, v(n.a) % n.k)}`;
    case 'wrap':
      return `${v(n.a) >= 2 ** n.bits}`;
    case 'clockSub':
      return `${v(n.a) < v(n.b)} ${Math.sign(v(n.a) - v(n.b) - n.hi)}`;
    case 'table': {
      const { x, y, m } = n.table;
      const i = x.filter((p) => p <= v(n.a)).length - 1;
      if (i < 0 || i === m.length) return `${i}`;
      const change = (v(n.a) - x[i]!) * m[i]!;
      const excess = Math.ceil(change / 256) - Math.abs(y[i + 1]! - y[i]!);
      return `${i} ${Math.min(2, change % 256)} ${Math.max(-1, Math.min(2, excess))}`;
    }
    default:
      return null;
  }
}
