/** Findings of a capture: from memory, or a job that works them out. */
import type { Findings } from '../findings/model.ts';
import type { Job } from './api.ts';
import { Refusal } from './refusal.ts';
import type { OpenCapture, Workbench } from './workbench.ts';

/** Throws `Refusal` where working them out failed for this very content before. */
export async function findingsOf(
  workbench: Workbench,
  capture: OpenCapture,
): Promise<{ findings: Findings; job: null } | { findings: null; job: Job }> {
  const key = `findings ${capture.hash}`;
  const failed = workbench.jobs.failed(key);
  if (failed !== null) throw new Refusal(422, failed.error ?? 'it could not be worked out');
  const running = workbench.jobs.running(key);
  if (running !== null) return { findings: null, job: running };
  // What a cancelled job leaves behind ends in an error and does not count.
  const known = await workbench.findings.peek(capture.hash)?.catch(() => null);
  if (known) return { findings: known, job: null };
  const job = workbench.jobs.start('findings', capture.name, key, async (progress, signal) => {
    await workbench.findings.get(capture.hash, async () => {
      progress(0, 'reading the capture');
      const { capture: frames } = await workbench.readCapture(capture);
      signal.throwIfAborted();
      const count = frames.count.toLocaleString('en');
      progress(0, `${count} frames`);
      const onProgress = (fraction: number) => progress(fraction, `${count} frames`);
      return workbench.engines.findings(frames, { signal, onProgress });
    });
  });
  return { findings: null, job };
}
