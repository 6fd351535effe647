/** The guard: its budget, the kept proof, and the job that proves anew. */
import { saveProof } from '../build/evidence.ts';
import type { Build } from '../build/model.ts';
import type { BudgetForm, Job } from './api.ts';
import { Refusal, sentenceOf } from './refusal.ts';
import type { Workbench } from './workbench.ts';

export function budgetOf(
  workbench: Workbench,
  build: Build,
): { budget: BudgetForm | null; budgetError: string | null } {
  if (build.guard === null) return { budget: null, budgetError: null };
  try {
    return { budget: workbench.engines.budget(build), budgetError: null };
  } catch (error) {
    return { budget: null, budgetError: sentenceOf(error) };
  }
}

/** Proves the guard as it is now and keeps the result in the build. Throws `Refusal` where there is nothing to prove. */
export async function startProof(workbench: Workbench): Promise<Job> {
  const { build, problems } = await workbench.load();
  if (build === null) throw new Refusal(422, 'the build cannot be read; mend its files first', problems);
  if (build.guard === null)
    throw new Refusal(422, 'the build has no readable guard.yaml: there is nothing to prove');
  const against = problems.filter((p) => p.file === 'guard.yaml' && p.weight !== 'caution');
  if (against.length > 0) throw new Refusal(422, 'guard.yaml has problems; mend them first', against);
  return workbench.jobs.start('proof', 'guard', 'proof', async (progress, signal) => {
    const onProgress = (fraction: number, note = 'proving') => progress(fraction, note);
    const { form, counterexamples } = await workbench.engines.proof(build, { signal, onProgress });
    signal.throwIfAborted();
    await saveProof(workbench.folder, form, counterexamples);
    await workbench.lookForChanges();
  });
}
