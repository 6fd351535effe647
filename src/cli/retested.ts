/** Accepted entries of a build held against its recordings, with progress on standard error. */
import type { Build } from '../build/model.ts';
import { type RetestedBuild, retestAll } from '../build/retestAll.ts';
import { counted } from './print.ts';
import { stage } from './progress.ts';

/** null where the build has nothing accepted or no recording. `only`: names of the recordings to test; default all. */
export async function contradictionsOf(
  build: Build,
  signal: AbortSignal,
  only: readonly string[] = build.captures,
): Promise<RetestedBuild | null> {
  const captures = build.captures.filter((name) => only.includes(name));
  if (captures.length === 0 || build.dictionaries.every((d) => d.messages.length === 0)) return null;
  // Of no interest in a log: what was found stands among the results.
  const step = process.stderr.isTTY ? stage('Entries') : null;
  const tested = await retestAll(
    { ...build, captures },
    { signal, onProgress: (share) => step?.update(share) },
  );
  step?.done(
    `${counted(tested.captures.length, 'capture')}, ${counted(tested.contradictions.length, 'contradiction')}`,
  );
  for (const { why } of tested.left) process.stderr.write(`note: left out: ${why}\n`);
  return tested;
}
