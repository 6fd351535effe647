/** The reference channels of the build in which a recording lies, on the clock of the recording. */
import { basename } from 'node:path';
import { loadBuild } from '../build/load.ts';
import { captureTimes, clockOf } from '../build/reference/clock.ts';
import type { Capture } from '../capture/store.ts';
import type { ReferenceChannel } from '../findings/scale/index.ts';
import { buildAround } from './inputs.ts';

/** The recording has no channel whose clock is known; the sentence says what would help. */
export class NoReferenceError extends Error {
  override readonly name = 'NoReferenceError';
}

/** @throws NoReferenceError */
export async function referencesOf(path: string, capture: Capture): Promise<ReferenceChannel[]> {
  const folder = buildAround(path);
  const build = folder === null ? null : (await loadBuild(folder)).build;
  if (!build)
    throw new NoReferenceError(
      `${path} lies in no build: reference channels stand in reference/ of the build whose captures/ holds the recording`,
    );
  const mine = build.references.filter((r) => r.file.capture === basename(path));
  const known = mine.flatMap((reference): ReferenceChannel[] => {
    const clock = clockOf(reference, capture.originNs);
    const { series, file } = reference;
    if (!series || clock.state === 'unknown') return [];
    const first = capture.count > 0 ? (capture.time[0] as number) : 0;
    const timeS = captureTimes(series.timeS, clock).map((t) => t + first);
    return [{ name: file.name, unit: file.unit, timeS, value: series.value }];
  });
  if (known.length === 0)
    throw new NoReferenceError(
      mine.length === 0
        ? `no reference channel of the build belongs to ${basename(path)}; right would be a file in reference/ with "capture: ${basename(path)}"`
        : `the clock of no reference channel of ${basename(path)} is known: \`bywright align\` finds it`,
    );
  return known;
}
