/** The guard: its budget, the kept proof, and the job that proves anew. */
import { guardHash, loadProof, saveProof } from '../build/evidence.ts';
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

const JOB = 'proof';
/** Hash of the guard that the last proof was started for. */
const proving = new WeakMap<Workbench, string | null>();

/**
 * Proves anew, without being asked, a guard that was proved before and has changed since, while a page is open to show
 * it; a proof of the guard as it was is ended. A guard with mistakes in its file waits until they are mended.
 */
export async function proveAfterChange(workbench: Workbench): Promise<void> {
  if (workbench.events.listening === 0) return;
  const { build, problems } = await workbench.load();
  if (build?.guard == null) return;
  if (problems.some((p) => p.file === 'guard.yaml' && p.weight !== 'caution')) return;
  const hash = guardHash(build);
  const kept = await loadProof(workbench.folder, build);
  if (hash === null || kept === null || !kept.stale) return;
  if (workbench.jobs.running(JOB) !== null) {
    if (proving.get(workbench) === hash) return;
    workbench.jobs.cancelWhere((key) => key === JOB);
  }
  await startProof(workbench);
}

/** Proves the guard as it is now and keeps the result in the build. Throws `Refusal` where there is nothing to prove. */
export async function startProof(workbench: Workbench): Promise<Job> {
  const { build, problems } = await workbench.load();
  if (build === null) throw new Refusal(422, 'the build cannot be read; mend its files first', problems);
  if (build.guard === null)
    throw new Refusal(422, 'the build has no readable guard.yaml: there is nothing to prove');
  const against = problems.filter((p) => p.file === 'guard.yaml' && p.weight !== 'caution');
  if (against.length > 0) throw new Refusal(422, 'guard.yaml has problems; mend them first', against);
  proving.set(workbench, guardHash(build));
  return workbench.jobs.start('proof', 'guard', JOB, async (progress, signal) => {
    const onProgress = (fraction: number, note = 'proving') => progress(fraction, note);
    const { form, counterexamples } = await workbench.engines.proof(build, { signal, onProgress });
    signal.throwIfAborted();
    await saveProof(workbench.folder, form, counterexamples);
    await workbench.lookForChanges();
  });
}
