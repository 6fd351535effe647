/** The proof of a guard: every obligation over all inputs, with a run that breaks it where it fails. */
import { createHash } from 'node:crypto';
import type { NodeId, Program } from '../../logic/form.ts';
import { cone } from '../../logic/graph.ts';
import { canonical, programHash } from '../../logic/hash.ts';
import { openSolver, type Solver } from '../../logic/solver.ts';
import { guardFigures } from '../figures.ts';
import type { GuardPlan } from '../model.ts';
import { specFigures } from '../obligations/index.ts';
import { guardProgram } from '../program/guard.ts';
import { atMost } from './atMost.ts';
import { DEPTHS, searchAll } from './bounded.ts';
import { type Exploration, explore } from './explore.ts';
import { type Ask, boundedAsk, inductiveStatements, notShownIn1, shownByInduction } from './induction.ts';
import { type Claim, guardSubject, type Statement, type Subject } from './subject.ts';
import { type Counterexample, counterexample, shrink } from './trace.ts';

export type ProofStatus = 'proved' | 'failed' | 'notShown' | 'vacuous';

export interface ObligationResult {
  name: string;
  sentence: string;
  status: ProofStatus;
  /** Time spent on it; queries that decided several obligations are shared out evenly. */
  seconds: number;
  /** SHA-256 of the obligation and of everything in guard and observer that it reads. */
  hash: string;
  /** Why it is not proved, or by how many steps of induction it is; empty for a plain proof. */
  note: string;
  counterexample: Counterexample | null;
}

export interface ProofReport {
  /** Name and `programHash` of the program that was proved. */
  program: string;
  hash: string;
  stepMs: number;
  obligations: ObligationResult[];
  /** Helping statements that were proved with it, and those that had to be left out. */
  statements: { name: string; kept: boolean }[];
  /** Steps simulated to find broken obligations and to see that conditions are met. */
  simulatedSteps: number;
  seconds: number;
}

export interface ProveOptions {
  signal?: AbortSignal;
  /** 0 … 1, and what it is at. */
  onProgress?: (fraction: number, note: string) => void;
  /** Milliseconds of a steady clock, for the times in the report; without it they are 0. */
  now?: () => number;
  /** A solver to use; without it one is started and closed again. */
  solver?: Solver;
  /** Simulated steps; default 150 000. */
  simulatedSteps?: number;
  /** Seed of the simulation; default 1. */
  seed?: number;
}

/** What is proved: the plan that says what is owed, and the program that is flashed (by default the one made from the plan). */
export interface ProveParts {
  guard: GuardPlan;
  stepMs: number;
  program?: Program;
}

/**
 * Proves a guard. `proved`: holds in every step of every run, for all inputs in their intervals. `failed`: a
 * run from switching on breaks it, replayed and given. `notShown`: neither. `vacuous`: holds, but no run was found that
 * meets its condition, so it says nothing.
 * @throws LogicError where the plan's figures make no program, SolverError where the solver misbehaves.
 */
export async function proveGuard(parts: ProveParts, options: ProveOptions = {}): Promise<ProofReport> {
  const subject = subjectOf(parts);
  const solver = options.solver ?? (await openSolver());
  try {
    return await new Proof(subject, solver, options).run();
  } finally {
    if (options.solver === undefined) await solver.close();
  }
}

/** The program and what is owed of it. Throws `LogicError` as `proveGuard`. */
export function subjectOf({ guard, stepMs, program }: ProveParts): Subject {
  return guardSubject(program ?? guardProgram(guardFigures(guard, stepMs)), specFigures(guard, stepMs));
}

/** Most work that the solver may put into one query. */
const RLIMIT = 400_000_000;
const SIMULATED_STEPS = 150_000;
const K_MAX = 3;

class Proof {
  readonly #subject: Subject;
  readonly #options: ProveOptions;
  readonly #ask: Ask;
  readonly #results: (ObligationResult | null)[];
  readonly #spent: number[];
  readonly #now: () => number;

  constructor(subject: Subject, solver: Solver, options: ProveOptions) {
    this.#subject = subject;
    this.#options = options;
    this.#ask = boundedAsk(solver, { rlimit: RLIMIT, ...(options.signal && { signal: options.signal }) });
    this.#results = subject.claims.map(() => null);
    this.#spent = subject.claims.map(() => 0);
    this.#now = options.now ?? (() => 0);
  }

  async run(): Promise<ProofReport> {
    const { claims, guard, figures, statements } = this.#subject;
    const begun = this.#now();
    const seen = await explore(this.#subject, {
      steps: this.#options.simulatedSteps ?? SIMULATED_STEPS,
      seed: this.#options.seed ?? 1,
      signal: this.#options.signal,
      onProgress: (fraction) => this.#progress(0.1 * fraction, 'simulating'),
    });
    seen.broken.forEach((inputs, i) => {
      if (inputs !== null) this.#fail(i, inputs);
    });
    this.#progress(0.1, 'helping statements');
    const kept = await inductiveStatements(this.#subject, this.#ask);
    await this.#induct(kept);
    await this.#decideOpen(seen, kept);
    await this.#lookForConditions(seen);
    this.#progress(1, 'done');
    return {
      program: guard.name,
      hash: programHash(guard),
      stepMs: figures.stepMs,
      obligations: claims.map((_, i) => this.#results[i]!),
      statements: statements.map((s) => ({ name: s.name, kept: kept?.includes(s) ?? false })),
      simulatedSteps: seen.steps,
      seconds: (this.#now() - begun) / 1000,
    };
  }

  /** One step of induction, the claims of a group in one query. */
  async #induct(kept: Statement[] | null): Promise<void> {
    if (kept === null) return;
    const groups = new Map<string, number[]>();
    this.#subject.claims.forEach((claim, i) => {
      if (this.#results[i] === null) groups.set(claim.group, [...(groups.get(claim.group) ?? []), i]);
    });
    let done = 0;
    const induct = async ([group, list]: [string, number[]]) => {
      const begun = this.#now();
      const asked = list.map((i) => this.#subject.claims[i]!);
      const open = await notShownIn1(this.#subject, kept, asked, this.#ask);
      this.#progress(0.4 + (0.4 * ++done) / groups.size, group);
      for (const i of list) {
        this.#spent[i]! += (this.#now() - begun) / 1000 / list.length;
        if (!open.includes(this.#subject.claims[i]!)) this.#settle(i, 'proved', '');
      }
    };
    await atMost(this.#ask.width, [...groups], induct);
  }

  /** What one step does not show: a search for a run that breaks it, then more steps. */
  async #decideOpen(seen: Exploration, kept: Statement[] | null): Promise<void> {
    const open = this.#results.flatMap((result, i) => (result === null ? [i] : []));
    if (open.length === 0) return;
    this.#progress(0.8, 'looking for runs that break what is left');
    const begun = this.#now();
    const claims = open.map((i) => this.#subject.claims[i]!);
    // Where a range is lost the guard no longer computes what was meant; a search through that is not worth its time.
    const depths = kept === null ? [] : DEPTHS;
    const runs = await searchAll(this.#subject, claims, seen.pool, this.#ask, { depths });
    for (const i of open) this.#spent[i]! += (this.#now() - begun) / 1000 / open.length;
    for (const [n, i] of open.entries()) {
      this.#progress(0.85 + (0.1 * n) / open.length, this.#subject.claims[i]!.name);
      const run = runs[n];
      if (run) this.#fail(i, run);
      else await this.#inductFurther(i, kept);
    }
  }

  async #inductFurther(i: number, kept: Statement[] | null): Promise<void> {
    const begun = this.#now();
    let shown = 0;
    for (let k = 2; kept !== null && shown === 0 && k <= K_MAX; k++) {
      if (await shownByInduction(this.#subject, kept, this.#subject.claims[i]!, k, this.#ask)) shown = k;
    }
    this.#spent[i]! += (this.#now() - begun) / 1000;
    if (shown > 0) return this.#settle(i, 'proved', `by induction over ${shown} steps`);
    const tried =
      kept === null
        ? 'a number of the guard may leave its range, so that nothing can be shown by induction'
        : `no induction over up to ${K_MAX} steps shows it`;
    this.#settle(i, 'notShown', `${tried}, and no run that breaks it was found`);
  }

  /** A claim whose condition is never met says nothing, however true it is. */
  async #lookForConditions(seen: Exploration): Promise<void> {
    const unmet = this.#subject.claims.flatMap((_, i) =>
      this.#results[i]!.status === 'proved' && !seen.met[i] ? [i] : [],
    );
    if (unmet.length === 0) return;
    this.#progress(0.95, 'looking for runs that meet every condition');
    const goals = unmet.map((i) => ({ when: this.#subject.claims[i]!.when }));
    const runs = await searchAll(this.#subject, goals, seen.pool, this.#ask);
    for (const [n, i] of unmet.entries()) {
      if (runs[n] === null) this.#settle(i, 'vacuous', 'no run was found in which its condition is met');
    }
  }

  #fail(i: number, inputs: readonly Float64Array[]): void {
    const claim = this.#subject.claims[i]!;
    const example = counterexample(this.#subject, claim, shrink(this.#subject, claim, inputs));
    if (example.offendingStep < 0) throw new Error(`${claim.name}: the run that breaks it does not replay`);
    this.#settle(i, 'failed', `broken ${example.steps} steps after switching on`, example);
  }

  #settle(i: number, status: ProofStatus, note: string, example: Counterexample | null = null): void {
    const { name, sentence } = this.#subject.claims[i]!;
    const hash = claimHash(this.#subject, this.#subject.claims[i]!);
    this.#results[i] = {
      name,
      sentence,
      status,
      seconds: this.#spent[i]!,
      hash,
      note,
      counterexample: example,
    };
  }

  #progress(fraction: number, note: string): void {
    this.#options.signal?.throwIfAborted();
    this.#options.onProgress?.(fraction, note);
  }
}

/** What a claim reads, through every step: nodes, and the next values of the states among them. */
function claimHash({ program }: Subject, claim: Claim): string {
  const roots = new Set<NodeId>([claim.when, claim.must]);
  let nodes: NodeId[] = [];
  for (let size = -1; size !== roots.size; ) {
    size = roots.size;
    nodes = cone(program, roots);
    for (const id of nodes) {
      const node = program.nodes[id]!;
      if (node.kind === 'state') roots.add(program.states[node.state]!.next);
    }
  }
  const read = nodes.map((id) => [id, program.nodes[id]]);
  const states = program.states.filter((s) => nodes.includes(s.next));
  const text = canonical([claim.name, claim.sentence, claim.when, claim.must, read, states]);
  return createHash('sha256').update(text).digest('hex');
}
