/** What is worked out of captures: from memory, from the build's cache, or by a job. */
import {
  CUES_KIND,
  FINDINGS_KIND,
  keepWorkedOut,
  RELATIONS_KIND,
  readWorkedOut,
  type WorkedOutKind,
} from '../build/cache/workedOut.ts';
import type { Build } from '../build/model.ts';
import { cuesOf, type RetestedBuild, retestAll } from '../build/retestAll.ts';
import { contentHash } from '../build/save.ts';
import type { CuedRecording, CueFinding } from '../findings/cues/index.ts';
import type { Findings } from '../findings/model.ts';
import type { Relations } from '../findings/relations/index.ts';
import type { Job } from './api.ts';
import type { JobWork } from './jobs.ts';
import type { Kept } from './kept.ts';
import { Refusal } from './refusal.ts';
import type { OpenCapture, Workbench } from './workbench.ts';

/** It is there, or a job is at it. */
export type Waited<T> = { value: T; job: null } | { value: null; job: Job };

/** Throws `Refusal` where working them out failed for this very content before. */
export async function findingsOf(
  workbench: Workbench,
  capture: OpenCapture,
): Promise<{ findings: Findings; job: null } | { findings: null; job: Job }> {
  const asked = await waited<Findings>(
    workbench,
    { kind: 'findings', subject: capture.name, key: capture.hash, kept: FINDINGS_KIND },
    workbench.findings,
    async (progress, signal) => {
      progress(0, 'reading the capture');
      const { capture: frames } = await workbench.readCapture(capture);
      signal.throwIfAborted();
      const count = `${frames.count.toLocaleString('en')} frames`;
      progress(0, count);
      return workbench.engines.findings(frames, {
        signal,
        onProgress: (fraction) => progress(fraction, count),
      });
    },
  );
  return asked.job === null ? { findings: asked.value, job: null } : { findings: null, job: asked.job };
}

/** Ties between the signals of a capture; its findings are worked out first. */
export async function relationsOf(workbench: Workbench, capture: OpenCapture): Promise<Waited<Relations>> {
  const { findings, job } = await findingsOf(workbench, capture);
  if (job !== null) return { value: null, job };
  return waited<Relations>(
    workbench,
    { kind: 'relations', subject: capture.name, key: capture.hash, kept: RELATIONS_KIND },
    workbench.results as Kept<Relations>,
    async (progress, signal) => {
      progress(0, 'reading the capture');
      const { capture: frames } = await workbench.readCapture(capture);
      const onProgress = (share: number) => progress(share, 'pairs of signals');
      return workbench.engines.relations(frames, findings, { signal, onProgress });
    },
  );
}

/** What followed the cues of a capture, or of all captures that have a sheet. null where none has. */
export async function rankedCuesOf(
  workbench: Workbench,
  capture: OpenCapture,
): Promise<Waited<CueFinding[] | null>> {
  const { findings, job } = await findingsOf(workbench, capture);
  if (job !== null) return { value: null, job };
  const { build } = await workbench.load();
  const cued = cuedParts(build, capture);
  if (cued.length === 0) return { value: null, job: null };
  return waited<CueFinding[]>(
    workbench,
    { kind: 'cues', subject: capture.name, key: cueKey(capture, cued), kept: CUES_KIND },
    workbench.results as Kept<CueFinding[]>,
    async (progress, signal) => {
      progress(0, 'reading the capture');
      const recordings: CuedRecording[] = [];
      for (const { part, cues } of cued)
        recordings.push({ name: part.name, capture: (await workbench.readCapture(part)).capture, cues });
      const onProgress = (share: number) => progress(share, 'signals beside cues');
      return workbench.engines.cues(recordings, findings, { signal, onProgress });
    },
  );
}

/** The same where it was worked out before; nothing is begun. */
export async function knownCuesOf(workbench: Workbench, capture: OpenCapture): Promise<CueFinding[] | null> {
  const { build } = await workbench.load();
  const cued = cuedParts(build, capture);
  if (cued.length === 0) return null;
  const key = cueKey(capture, cued);
  const known = (await workbench.results.peek(`cues ${key}`)?.catch(() => null)) ?? null;
  return (known as CueFinding[] | null) ?? readWorkedOut<CueFinding[]>(workbench.folder, CUES_KIND, key);
}

/** What recordings contradict of the accepted entries. */
export async function retestOf(workbench: Workbench): Promise<Waited<RetestedBuild | null>> {
  const { build } = await workbench.load();
  if (build === null) return { value: null, job: null };
  const hashes: string[] = [];
  for (const name of build.captures) hashes.push((await workbench.openCapture(name)).hash);
  const entries = [build.buses, build.dictionaries, build.cueSheets, build.captures, hashes];
  return waited<RetestedBuild>(
    workbench,
    { kind: 'retest', subject: 'dictionary', key: contentHash(JSON.stringify(entries)), kept: null },
    workbench.results as Kept<RetestedBuild>,
    (progress, signal) =>
      retestAll(build, {
        signal,
        onProgress: (share, name) => progress(share, name),
        read: async (name) => (await workbench.readCapture(await workbench.openCapture(name))).capture,
      }),
  );
}

interface Asked {
  kind: Job['kind'];
  subject: string;
  key: string;
  /** null where the work keeps its own parts. */
  kept: WorkedOutKind | null;
}

async function waited<T>(
  workbench: Workbench,
  { kind, subject, key, kept }: Asked,
  memory: Kept<T>,
  work: (...args: Parameters<JobWork>) => Promise<T>,
): Promise<Waited<T>> {
  const jobKey = `${kind} ${key}`;
  const failed = workbench.jobs.failed(jobKey);
  if (failed !== null) throw new Refusal(422, failed.error ?? 'it could not be worked out');
  const running = workbench.jobs.running(jobKey);
  if (running !== null) return { value: null, job: running };
  // What a cancelled job leaves behind ends in an error and does not count.
  const known = await memory.peek(jobKey)?.catch(() => null);
  if (known) return { value: known, job: null };
  const stored = kept === null ? null : await readWorkedOut<T>(workbench.folder, kept, key);
  if (stored !== null) return { value: await memory.get(jobKey, async () => stored), job: null };
  const job = workbench.jobs.start(kind, subject, jobKey, async (progress, signal) => {
    const value = await memory.get(jobKey, () => work(progress, signal));
    if (kept !== null) await keepWorkedOut(workbench.folder, kept, key, value);
  });
  return { value: null, job };
}

function cuedParts(build: Build | null, capture: OpenCapture) {
  return (capture.parts ?? [capture])
    .map((part) => ({ part, cues: build === null ? [] : cuesOf(build, part.name) }))
    .filter(({ cues }) => cues.length > 0);
}

function cueKey(capture: OpenCapture, cued: ReturnType<typeof cuedParts>): string {
  return `${capture.hash} ${contentHash(JSON.stringify(cued.map(({ part, cues }) => [part.hash, cues])))}`;
}
