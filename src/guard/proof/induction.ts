/**
 * Proof by induction over all states and inputs. First the helping statements together with the ranges of all states,
 * weakened until they carry themselves; then every claim from any state in which the statements hold.
 */
import { type RangeObligation, rangeObligations, type SmtSteps, smtSteps } from '../../logic/emit-smt.ts';
import type { Program } from '../../logic/form.ts';
import { initialState, interpret } from '../../logic/interpret.ts';
import type { CheckOptions, Solver, SolverAnswer } from '../../logic/solver.ts';
import { atMost } from './atMost.ts';
import type { Claim, Statement, Subject } from './subject.ts';
import { type Assumed, type Sees, touching, type View, viewOf } from './view.ts';

/** Asks the solver within the bounds that the caller set. */
export interface Ask {
  (text: string, values: readonly string[]): Promise<SolverAnswer>;
  /** So many queries at once are answered at once. */
  width: number;
}

/** Bound on one query in the solver's own units, so that a verdict does not depend on how busy the machine is. */
export function boundedAsk(solver: Solver, options: Pick<CheckOptions, 'rlimit' | 'signal'>): Ask {
  const ask = (text: string, values: readonly string[]) => solver.check(text, { ...options, values });
  return Object.assign(ask, { width: solver.width ?? 1 });
}

/**
 * The statements that hold at the start and carry themselves from step to step, together with the declared ranges of
 * all states; null if some state may leave its range, because then nothing can be shown by induction.
 */
export async function inductiveStatements(subject: Subject, ask: Ask): Promise<Statement[] | null> {
  const { program } = subject;
  const start = initialState(program);
  const inputs = Float64Array.from(program.inputs, (i) => Math.min(Math.max(0, i.lo), i.hi));
  const { values } = interpret(program, start, inputs);
  let kept = subject.statements.filter((s) => values[s.node] === 1);
  for (let again = true; again; ) {
    const assumed = kept;
    const failing = await atMost(ask.width, groupsOf(assumed), (group) =>
      notCarried(subject, assumed, group, ask),
    );
    kept = assumed.filter((s) => !failing.flat().includes(s));
    again = kept.length < assumed.length;
  }
  return (await rangesCarried(subject, kept, ask)) ? kept : null;
}

/**
 * Claims that are not shown to hold in every step from any state with the statements; the others are proved. They are
 * asked for in the smallest view that they name (view.ts), and again of the whole where that does not show them.
 */
export async function notShownIn1(
  subject: Subject,
  statements: readonly Statement[],
  claims: readonly Claim[],
  ask: Ask,
): Promise<Claim[]> {
  const sees = seesOf(claims);
  const view = viewOf(subject, sees);
  const roots = claims.flatMap((c) => [c.when, c.must]);
  const seen = touching(view, statements, roots, { sees, steps: 1 });
  const asked = claims.map((c) => ({ when: view.at(c.when), must: view.at(c.must) }));
  const open = await openIn(view.program, seen, asked, ask);
  const left = claims.filter((_, i) => open.includes(asked[i]!));
  if (left.length === 0 || (view.program === subject.program && seen.length === statements.length))
    return left;
  return openIn(subject.program, statements, left, ask);
}

/** Claims that are not shown in one program with these statements. */
async function openIn<C extends Pick<Claim, 'when' | 'must'>>(
  program: Program,
  statements: readonly Assumed[],
  claims: readonly C[],
  ask: Ask,
): Promise<C[]> {
  const open: C[] = [];
  let left = [...claims];
  while (left.length > 0) {
    const smt = smtSteps(program, {
      steps: 1,
      start: 'any',
      roots: [...statements.map((s) => s.node), ...left.flatMap((c) => [c.when, c.must])],
    });
    const terms = left.map((c) => `(and ${smt.symbol(c.when)} (not ${smt.symbol(c.must)}))`);
    const answer = await ask(
      `${smt.text}${assumed(smt, statements, 0)}(assert (or false ${terms.join(' ')}))`,
      terms,
    );
    if (answer.verdict === 'unsat') break;
    const failing = left.filter((_, i) => answer.verdict === 'sat' && answer.values.get(terms[i]!) === 1n);
    if (failing.length === 0) {
      if (left.length === 1) return [...open, ...left];
      for (const claim of left) open.push(...(await openIn(program, statements, [claim], ask)));
      break;
    }
    open.push(...failing);
    left = left.filter((c) => !failing.includes(c));
  }
  return open;
}

/** Whether a claim that holds in k − 1 steps running holds in the next, and in the first k − 1 steps from the start. */
export async function shownByInduction(
  subject: Subject,
  statements: readonly Statement[],
  claim: Claim,
  k: number,
  ask: Ask,
): Promise<boolean> {
  const roots = [claim.when, claim.must, ...statements.map((s) => s.node)];
  const step = smtSteps(subject.program, { steps: k, start: 'any', roots });
  const broken = (smt: SmtSteps, at: number) =>
    `(and ${smt.symbol(claim.when, at)} (not ${smt.symbol(claim.must, at)}))`;
  const before = Array.from({ length: k - 1 }, (_, i) => `(assert (not ${broken(step, i)}))`);
  const known = Array.from({ length: k }, (_, i) => assumed(step, statements, i));
  const next = await ask(
    `${step.text}${[...known, ...before].join('\n')}(assert ${broken(step, k - 1)})`,
    [],
  );
  if (next.verdict !== 'unsat') return false;
  const base = smtSteps(subject.program, { steps: k - 1, start: 'initial', roots: [claim.when, claim.must] });
  const early = Array.from({ length: k - 1 }, (_, i) => broken(base, i));
  const first = await ask(`${base.text}(assert (or false ${early.join(' ')}))`, []);
  return first.verdict === 'unsat';
}

/** Statements of a group that a step from a state with all of `kept` may break; all of them where the solver gives up. */
async function notCarried(
  subject: Subject,
  kept: readonly Statement[],
  group: readonly Statement[],
  ask: Ask,
): Promise<Statement[]> {
  const carried = async ({ program, at }: View, known: readonly Assumed[]): Promise<Statement[]> => {
    const next = group.map((s) => at(s.node));
    const smt = smtSteps(program, {
      steps: 2,
      start: 'any',
      roots: (step) => (step === 0 ? known.map((s) => s.node) : next),
    });
    const terms = next.map((node) => `(not ${smt.symbol(node, 1)})`);
    const text = `${smt.text}${assumed(smt, known, 0)}(assert (or false ${terms.join(' ')}))`;
    const answer = await ask(text, terms);
    if (answer.verdict === 'unsat') return [];
    const failing = group.filter((_, i) => answer.verdict === 'sat' && answer.values.get(terms[i]!) === 1n);
    return failing.length > 0 ? failing : [...group];
  };
  const sees = seesOf(group);
  const view = viewOf(subject, sees);
  const roots = group.map((s) => s.node);
  const known = touching(view, kept, roots, { sees, steps: 2 });
  const failing = await carried(view, known);
  if (failing.length === 0 || (view.program === subject.program && known.length === kept.length))
    return failing;
  return carried(viewOf(subject, null), kept);
}

async function rangesCarried(subject: Subject, kept: readonly Statement[], ask: Ask): Promise<boolean> {
  const shown = async (
    program: Program,
    open: readonly RangeObligation[],
    known: readonly Assumed[],
  ): Promise<boolean> => {
    const smt = smtSteps(program, {
      steps: 1,
      start: 'any',
      roots: [...known.map((s) => s.node), ...open.map((r) => r.node)],
    });
    const terms = open.map((r) => `(not ${smt.nextInRange(r.state)})`);
    const answer = await ask(`${smt.text}${assumed(smt, known, 0)}(assert (or ${terms.join(' ')}))`, []);
    return answer.verdict === 'unsat';
  };
  for (const obligation of rangeObligations(subject.program).filter((r) => !r.shown)) {
    const known = touching(viewOf(subject, null), kept, [obligation.node], { sees: null, steps: 1 });
    if (await shown(subject.program, [obligation], known)) continue;
    if (!(await shown(subject.program, [obligation], kept))) return false;
  }
  return true;
}

/** The least view in which all of them can be asked for. */
function seesOf(asked: readonly { sees: Sees }[]): Sees {
  const seen = asked.map(({ sees }) => sees);
  return seen.includes(null) ? null : [...new Set(seen.flatMap((sees) => sees ?? []))];
}

function assumed(smt: SmtSteps, statements: readonly Assumed[], step: number): string {
  return `${statements.map((s) => `(assert ${smt.symbol(s.node, step)})`).join('\n')}\n`;
}

/** Statements of a group are asked for together: much cheaper than one by one. */
function groupsOf(statements: readonly Statement[]): Statement[][] {
  const groups = new Map<string, Statement[]>();
  for (const s of statements) groups.set(s.group, [...(groups.get(s.group) ?? []), s]);
  return [...groups.values()];
}
