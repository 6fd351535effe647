/** Tells a slip of the command line (no build in that folder) from problems in a build. */
import type { Problem } from '../build/model.ts';
import { problemSentence } from '../build/problem.ts';

/** There is no build in the folder; the message says what is there instead. */
export class NoSuchBuildError extends Error {
  override name = 'NoSuchBuildError';
}

/** `problems` are those that `loadBuild` told of the same folder. Throws `NoSuchBuildError`. */
export function refuseNoBuild(folder: string, problems: readonly Problem[]): void {
  const none = problems.find((p) => p.file === folder);
  if (none) throw new NoSuchBuildError(problemSentence(none));
}
