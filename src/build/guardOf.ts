/** The guard of a build: its proof and its budget, in the forms in which they are kept and printed. */
import { checkTables, type TableCheck } from '../guard/budget/margin.ts';
import { type Proposal, proposeTables } from '../guard/budget/propose.ts';
import { type ProofReport, proveGuard } from '../guard/proof/index.ts';
import type { CounterexampleForm, ProofForm } from './evidence.ts';
import { stepOf } from './gatewayOf.ts';
import type { Build } from './model.ts';

/** The build has no guard.yaml, so there is nothing to prove and no table to hold against a budget. */
export class NoGuardError extends Error {
  override name = 'NoGuardError';
}

export interface Proving {
  signal?: AbortSignal;
  /** 0 … 1, and what it is at. */
  onProgress?: (fraction: number, note: string) => void;
}

export interface Proved {
  form: ProofForm;
  counterexamples: CounterexampleForm[];
}

/** Proves every obligation of the build's guard; nothing is written. Throws `NoGuardError`, and as `proveGuard`. */
export async function proveBuild(build: Build, proving: Proving = {}): Promise<Proved> {
  const report = await proveGuard(
    { guard: guardIn(build), stepMs: stepOf(build) },
    { ...proving, now: () => performance.now() },
  );
  return { form: proofForm(report, new Date()), counterexamples: playBacks(report) };
}

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
