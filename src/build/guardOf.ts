/** The guard of a build: its proof and its budget, in the forms in which they are kept and printed. */
import { checkTables, type TableCheck } from '../guard/budget/margin.ts';
import { type Proposal, proposeTables } from '../guard/budget/propose.ts';
import { type ProofReport, proveGuard, strengthOf, subjectOf } from '../guard/proof/index.ts';
import { openSolvers } from '../logic/solverPool.ts';
import type { CounterexampleForm, ProofForm } from './evidence.ts';
import { stepOf } from './gatewayOf.ts';
import type { Build } from './model.ts';
import { rememberingSolver } from './proofCache.ts';

/** The build has no guard.yaml, so there is nothing to prove and no table to hold against a budget. */
export class NoGuardError extends Error {
  override name = 'NoGuardError';
}

export interface Proving {
  signal?: AbortSignal;
  /** 0 … 1, and what it is at. */
  onProgress?: (fraction: number, note: string) => void;
  /** `kept` (default): what an earlier proof was told by the solver counts (`proofCache.ts`); `none`: all is asked anew. */
  verdicts?: 'kept' | 'none';
  /** Also measure how sharp the obligations are, on this many changed guards drawn from this seed; takes minutes. */
  strength?: { mutants: number; seed: number };
}

export interface Proved {
  form: ProofForm;
  counterexamples: CounterexampleForm[];
}

/** Proves every obligation of the build's guard; nothing is written but the cache. Throws `NoGuardError`, and as `proveGuard`. */
export async function proveBuild(build: Build, proving: Proving = {}): Promise<Proved> {
  const parts = { guard: guardIn(build), stepMs: stepOf(build) };
  const { signal, onProgress, verdicts = 'kept', strength } = proving;
  const open = () => openSolvers(SOLVERS);
  const kept = verdicts === 'kept' ? rememberingSolver(build.folder, { open, width: SOLVERS }) : null;
  const solver = kept ?? (await open());
  const share = strength ? 0.1 : 1;
  try {
    const report = await proveGuard(parts, {
      solver,
      now: () => performance.now(),
      ...(signal && { signal }),
      onProgress: (fraction, note) => onProgress?.(share * fraction, note),
    });
    const form = proofForm(report, new Date());
    if (kept && kept.remembered > 0) form.remembered = kept.remembered;
    if (strength)
      form.strength = await strengthOf(subjectOf(parts), {
        ...strength,
        solver,
        signal,
        onJudged: ({ name }, _, done) => onProgress?.(share + (1 - share) * done, name),
      });
    return { form, counterexamples: playBacks(report) };
  } finally {
    await solver.close();
  }
}

/** Two queries at a time: as many as an old laptop has cores, and what the second of them costs in memory is 30 MB. */
const SOLVERS = 2;

/** Tables with a margin to the budget, for a person to judge. Throws `NoGuardError`, and as `proposeTables`. */
export function proposalOf(build: Build, options: Parameters<typeof proposeTables>[2]): Proposal[] {
  return proposeTables(guardIn(build), build.file.host, options);
}

/** The tables held against the budget. Throws `NoGuardError`, and as `budgetAt`. */
export function tableCheckOf(build: Build): TableCheck {
  return checkTables(guardIn(build), build.file.host);
}

function guardIn(build: Build) {
  if (build.guard === null) {
    throw new NoGuardError(
      `${build.folder}: there is no guard.yaml, so there is no guard to prove or to budget; demo/guard.yaml in the program's folder shows one`,
    );
  }
  return build.guard;
}

/** `proof/1`; where a counterexample is kept is known once it is saved (`saveProof`). */
function proofForm(report: ProofReport, at: Date): ProofForm {
  return {
    form: 'proof/1',
    program: report.program,
    hash: report.hash,
    at: at.toISOString(),
    obligations: report.obligations.map(({ name, sentence, status, seconds, hash, note }) => ({
      name,
      sentence,
      status,
      seconds: Number(seconds.toFixed(3)),
      hash,
      counterexample: null,
      note,
    })),
  };
}

function playBacks(report: ProofReport): CounterexampleForm[] {
  return report.obligations.flatMap(({ name, sentence, counterexample }) =>
    counterexample === null
      ? []
      : [
          {
            form: 'counterexample/1' as const,
            obligation: name,
            sentence,
            stepMs: counterexample.stepMs,
            brokenAtStep: counterexample.offendingStep,
            columns: counterexample.columns,
          },
        ],
  );
}
