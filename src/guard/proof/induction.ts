/**
 * Proof by induction over all states and inputs. First the helping statements together with the ranges of all states,
 * weakened until they carry themselves; then every claim from any state in which the statements hold.
 */
import { rangeObligations, type SmtSteps, smtSteps } from '../../logic/emit-smt.ts';
import { initialState, interpret } from '../../logic/interpret.ts';
import type { CheckOptions, Solver, SolverAnswer } from '../../logic/solver.ts';
import type { Claim, Statement, Subject } from './subject.ts';

/** Asks the solver within the bounds that the caller set. */
export type Ask = (text: string, values: readonly string[]) => Promise<SolverAnswer>;

/** Bound on one query in the solver's own units, so that a verdict does not depend on how busy the machine is. */
export function boundedAsk(solver: Solver, options: Pick<CheckOptions, 'rlimit' | 'signal'>): Ask {
  return (text, values) => solver.check(text, { ...options, values });
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
    again = false;
    for (const group of groupsOf(kept)) {
      const failing = await notCarried(subject, kept, group, ask);
      if (failing.length === 0) continue;
      kept = kept.filter((s) => !failing.includes(s));
      again = true;
    }
  }
  return (await rangesCarried(subject, kept, ask)) ? kept : null;
}

/** Claims that are not shown to hold in every step from any state with the statements; the others are proved. */
export async function notShownIn1(
  subject: Subject,
  statements: readonly Statement[],
  claims: readonly Claim[],
  ask: Ask,
): Promise<Claim[]> {
  const open: Claim[] = [];
  let left = [...claims];
  while (left.length > 0) {
    const smt = smtSteps(subject.program, {
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
      for (const claim of left) open.push(...(await notShownIn1(subject, statements, [claim], ask)));
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
  const smt = smtSteps(subject.program, {
    steps: 2,
    start: 'any',
    roots: (step) => (step === 0 ? kept : group).map((s) => s.node),
  });
  const terms = group.map((s) => `(not ${smt.symbol(s.node, 1)})`);
  const answer = await ask(
    `${smt.text}${assumed(smt, kept, 0)}(assert (or false ${terms.join(' ')}))`,
    terms,
  );
  if (answer.verdict === 'unsat') return [];
  const failing = group.filter((_, i) => answer.verdict === 'sat' && answer.values.get(terms[i]!) === 1n);
  return failing.length > 0 ? failing : [...group];
}

async function rangesCarried(subject: Subject, kept: readonly Statement[], ask: Ask): Promise<boolean> {
  const open = rangeObligations(subject.program).filter((r) => !r.shown);
  if (open.length === 0) return true;
  const smt = smtSteps(subject.program, {
    steps: 1,
    start: 'any',
    roots: [...kept.map((s) => s.node), ...open.map((r) => r.node)],
  });
  const terms = open.map((r) => `(not ${smt.nextInRange(r.state)})`);
  const answer = await ask(`${smt.text}${assumed(smt, kept, 0)}(assert (or ${terms.join(' ')}))`, []);
  return answer.verdict === 'unsat';
}

function assumed(smt: SmtSteps, statements: readonly Statement[], step: number): string {
  return `${statements.map((s) => `(assert ${smt.symbol(s.node, step)})`).join('\n')}\n`;
}

/** Statements with the same first word are asked for together: much cheaper than one by one. */
function groupsOf(statements: readonly Statement[]): Statement[][] {
  const groups = new Map<string, Statement[]>();
  for (const s of statements) {
    const word = s.name.split('_')[0]!;
    groups.set(word, [...(groups.get(word) ?? []), s]);
  }
  return [...groups.values()];
}
