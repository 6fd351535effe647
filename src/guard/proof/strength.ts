/**
 * How sharp the obligations are, as a score: of so many small changes of the guard drawn at random, how many break an
 * obligation in a real run, and how many are shown to change nothing.
 */
import type { Solver } from '../../logic/solver.ts';
import { boundedAsk, inductiveStatements } from './induction.ts';
import { judgeMutant, type Mutant, mutants, type Verdict } from './mutate.ts';
import { seededRandom } from './random.ts';
import type { Subject } from './subject.ts';

export interface Strength {
  /** Changed guards that were judged; those that are no program any more are not counted. */
  mutants: number;
  /** A run from switching on breaks an obligation, replayed. */
  refuted: number;
  /** The solver shows that no reachable step differs from the guard's. */
  equivalent: number;
  /** Neither. */
  undecided: number;
  seed: number;
}

export interface StrengthOptions {
  /** How many mutants are drawn; all of them where there are no more. */
  mutants: number;
  seed: number;
  solver: Solver;
  /** Steps simulated with each mutant; default 60 000. */
  steps?: number;
  /** Most work that the solver may put into one query. */
  rlimit?: number;
  signal?: AbortSignal | undefined;
  /** Called with every mutant that was judged. */
  onJudged?: (mutant: Mutant, verdict: Verdict, share: number) => void;
}

/** Draws mutants of the subject's guard and judges them. Throws as `judgeMutant`. */
export async function strengthOf(subject: Subject, options: StrengthOptions): Promise<Strength> {
  const { seed, signal, steps = 60_000, rlimit = 400_000_000 } = options;
  const ask = boundedAsk(options.solver, { rlimit, ...(signal && { signal }) });
  const statements = (await inductiveStatements(subject, ask)) ?? [];
  const all = mutants(subject.guard);
  const random = seededRandom(seed);
  const score: Strength = { mutants: 0, refuted: 0, equivalent: 0, undecided: 0, seed };
  while (score.mutants < options.mutants && all.length > 0) {
    signal?.throwIfAborted();
    const [mutant] = all.splice(random.below(all.length), 1) as [Mutant];
    const verdict = await judgeMutant(mutant, subject.figures, { subject, statements }, ask, { steps, seed });
    if (verdict.kind !== 'rejected') {
      score.mutants++;
      if (verdict.kind === 'refuted') score.refuted++;
      else if (verdict.kind === 'equivalent') score.equivalent++;
      else score.undecided++;
    }
    options.onJudged?.(mutant, verdict, score.mutants / options.mutants);
  }
  return score;
}
