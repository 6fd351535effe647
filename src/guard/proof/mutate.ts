/**
 * How sharp the obligations are: every single small change of the guard's program (a mutant) must break an obligation
 * or change nothing. For tests and measurements.
 */
import { type SmtSteps, smtSteps } from '../../logic/emit-smt.ts';
import { LogicError } from '../../logic/error.ts';
import type { LogicNode, NodeId, Program } from '../../logic/form.ts';
import { cone, results } from '../../logic/graph.ts';
import { canonical } from '../../logic/hash.ts';
import { intervalOf } from '../../logic/interval.ts';
import type { GuardFigures } from '../figures.ts';
import { renumbered } from '../join.ts';
import { aimedRuns, type Place } from './aim.ts';
import { searchAll } from './bounded.ts';
import { explore } from './explore.ts';
import { type Ask, inductiveStatements, notShownIn1 } from './induction.ts';
import { guardSubject, type Statement, type Subject } from './subject.ts';

export interface Mutant {
  /** "node 29 speed_ok: le becomes lt". */
  name: string;
  program: Program;
}

export type Verdict =
  /** A run from switching on breaks this obligation. */
  | { kind: 'refuted'; by: string; how: 'simulation' | 'search' }
  /** It is no program any more: a value could leave its interval. */
  | { kind: 'rejected'; why: string }
  /** Same outputs and next states as the guard, for all inputs and all states in which the proved statements hold. */
  | { kind: 'equivalent' }
  /** These obligations are no longer proved, but no run that breaks them was found. */
  | { kind: 'notProved'; claims: string[] }
  /** Everything is proved of it, although it differs. */
  | { kind: 'survived' };

/** All mutants of one small change: constants ± 1, comparisons, connectives, branches, tables, and states that stand still. */
export function mutants(guard: Program): Mutant[] {
  const list: Mutant[] = [];
  const change = (id: NodeId, what: string, to: (node: LogicNode) => LogicNode) => {
    const { name, kind } = guard.nodes[id]!;
    list.push({ name: `node ${id} ${name || kind}: ${what}`, program: changed(guard, id, to) });
  };
  // What nothing reads is not in the C either.
  for (const id of cone(guard, results(guard))) {
    const node = guard.nodes[id]!;
    const swapped = SWAPS[node.kind];
    if (swapped) change(id, `${node.kind} becomes ${swapped}`, (n) => ({ ...n, kind: swapped }) as LogicNode);
    switch (node.kind) {
      case 'const':
        if (node.type === 'bool') break;
        for (const by of [1, -1]) {
          const value = node.value + by;
          change(id, `${node.value} becomes ${value}`, (n) => ({ ...n, value }) as LogicNode);
        }
        break;
      case 'lt':
      case 'le':
      case 'clockSub':
        change(id, 'sides exchanged', (n) => ({ ...n, a: node.b, b: node.a }) as LogicNode);
        break;
      case 'select':
        change(id, 'branches exchanged', (n) => ({ ...n, yes: node.no, no: node.yes }) as LogicNode);
        break;
      case 'not':
        change(id, 'left out', ({ name, type, lo, hi }) => ({
          kind: 'or',
          name,
          type,
          lo,
          hi,
          a: node.a,
          b: node.a,
        }));
        break;
      case 'table':
        change(id, 'every value 1 higher', () => ({
          ...node,
          table: { ...node.table, y: node.table.y.map((y) => y + 1) },
        }));
        change(id, 'every point 1 later', () => ({
          ...node,
          table: { ...node.table, x: node.table.x.map((x) => x + 1) },
        }));
        break;
    }
  }
  guard.states.forEach((state, i) => {
    const program = structuredClone(guard);
    program.states[i]!.next = program.nodes.findIndex((n) => n.kind === 'state' && n.state === i);
    list.push({ name: `state ${state.name}: stands still`, program });
  });
  return list;
}

/** Decides a mutant: by simulation, else by comparing it with the guard, by a search, and by the proof itself. */
export async function judgeMutant(
  mutant: Mutant,
  figures: GuardFigures,
  original: { subject: Subject; statements: Statement[] },
  ask: Ask,
  options: { steps: number; seed: number },
): Promise<Verdict> {
  let subject: Subject;
  try {
    subject = guardSubject(mutant.program, figures);
    checkIntervals(subject.program);
  } catch (error) {
    if (error instanceof LogicError) return { kind: 'rejected', why: error.message };
    throw error;
  }
  const seen = await explore(subject, { ...options, enough: 1 });
  const at = seen.broken.findIndex((run) => run !== null);
  if (at >= 0) return { kind: 'refuted', by: subject.claims[at]!.name, how: 'simulation' };
  for (let tried: Place[] = []; tried.length < PLACES; ) {
    const place = await differenceIn(mutant.program, original, tried, ask);
    if (place === 'none' && tried.length === 0) return { kind: 'equivalent' };
    if (typeof place === 'string') break;
    const hit = aimedRuns(subject, place);
    if (hit) return { kind: 'refuted', by: subject.claims[hit.claim]!.name, how: 'search' };
    tried = [...tried, place];
  }
  const runs = await searchAll(subject, subject.claims, seen.pool, ask, { depths: DEPTHS, enough: 1 });
  const found = runs.findIndex((run) => run !== null);
  if (found >= 0) return { kind: 'refuted', by: subject.claims[found]!.name, how: 'search' };
  const kept = await inductiveStatements(subject, ask);
  const open = kept === null ? subject.claims : await notShownIn1(subject, kept, subject.claims, ask);
  return open.length > 0 ? { kind: 'notProved', claims: open.map((c) => c.name) } : { kind: 'survived' };
}

const DEPTHS = [1, 2];
/** So many places in which the change shows are tried before the search from reached states. */
const PLACES = 4;

const SWAPS: Partial<Record<LogicNode['kind'], LogicNode['kind']>> = {
  lt: 'le',
  le: 'lt',
  and: 'or',
  or: 'and',
  min: 'max',
  max: 'min',
  add: 'sub',
  sub: 'add',
};

function changed(guard: Program, id: NodeId, to: (node: LogicNode) => LogicNode): Program {
  const program = structuredClone(guard);
  program.nodes[id] = to(program.nodes[id]!);
  for (const node of program.nodes.slice(id))
    Object.assign(
      node,
      intervalOf(node, (operand) => program.nodes[operand]!),
    );
  return program;
}

/** A changed table or constant may lead operands where a node must not have them. */
function checkIntervals(program: Program): void {
  program.nodes.forEach((node, id) => {
    const least =
      node.kind === 'divk' || node.kind === 'table' || node.kind === 'wrap' ? program.nodes[node.a]!.lo : 0;
    if (least < 0) throw new LogicError(`node ${id} ${node.kind} reads a value that can reach ${least}`);
  });
}

/**
 * A state with the statements and inputs that make the two programs differ in an output or a next state, with orders
 * other than those already tried; 'none' where there is none.
 */
async function differenceIn(
  mutant: Program,
  original: { subject: Subject; statements: Statement[] },
  tried: readonly Place[],
  ask: Ask,
): Promise<Place | 'none' | 'unknown'> {
  const { subject, statements } = original;
  const { guard } = subject;
  const nodes = subject.program.nodes.slice();
  // Guard nodes stand at the beginning of the subject's: what reads no changed node is shared, so that only the rest is compared.
  const at: NodeId[] = [];
  mutant.nodes.forEach((node, id) => {
    const own = guard.nodes[id];
    const moved = renumbered(node, at);
    if (own !== undefined && canonical(moved) === canonical(own)) at[id] = id;
    else {
      const interval = intervalOf(moved, (o) => nodes[o]!);
      at[id] = nodes.push(Object.assign(moved, interval)) - 1;
    }
  });
  const pairs = [
    ...guard.outputs.map((o, i) => [o.node, at[mutant.outputs[i]!.node]!] as const),
    ...guard.states.map((s, i) => [s.next, at[mutant.states[i]!.next]!] as const),
  ].filter(([a, b]) => a !== b);
  if (pairs.length === 0) return 'none';
  if (pairs.some(([a, b]) => nodes[a]!.hi > 2 ** 31 || nodes[b]!.hi > 2 ** 31)) return 'unknown';
  const equal = pairs.map(
    ([a, b]) => nodes.push({ kind: 'eq', type: 'bool', lo: 0, hi: 1, name: '', a, b }) - 1,
  );
  const program = { ...subject.program, nodes };
  const smt = smtSteps(program, {
    steps: 1,
    start: 'any',
    roots: [...equal, ...statements.map((s) => s.node)],
  });
  const known = statements.map((s) => `(assert ${smt.symbol(s.node)})`);
  const differs = equal.map((id) => `(not ${smt.symbol(id)})`).join(' ');
  const others = tried.map(({ state }) => {
    const same = nodes.flatMap((node, id) =>
      node.kind === 'state' && program.states[node.state]!.name.endsWith('_held') && node.type === 'int'
        ? sameValue(smt, id, state[node.state]!)
        : [],
    );
    return `(assert (not (and true ${same.join(' ')})))`;
  });
  const text = `${smt.text}${[...known, ...others].join('\n')}\n(assert (or false ${differs}))`;
  const { verdict, values } = await ask(text, smt.free);
  if (verdict !== 'sat') return verdict === 'unsat' ? 'none' : 'unknown';
  const { start, inputs } = smt.trace(values);
  return { state: start, inputs: inputs[0]! };
}

/** The term that a state has this value; nothing where the query does not read the state, or where it is the clock. */
function sameValue(smt: SmtSteps, id: NodeId, value: number): string[] {
  try {
    return [`(= ${smt.symbol(id)} ${smt.literal(id, value)})`];
  } catch (error) {
    if (error instanceof LogicError) return [];
    throw error;
  }
}
