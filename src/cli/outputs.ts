/** Keeps commands from writing over what the user brought. */
import { stat } from 'node:fs/promises';
import { basename, dirname, join, resolve } from 'node:path';
import { CAPTURES_FOLDER, EVIDENCE_FOLDER, TEXT_FOLDERS, TOP_FILES } from '../build/files.ts';

/** The place named for a result holds something that must not be lost; nothing was written. */
export class OutputError extends Error {
  override name = 'OutputError';
}

/** Folders of a build whose files are the user's, or the tool's own. */
const KEPT_FOLDERS: readonly string[] = [...TEXT_FOLDERS, CAPTURES_FOLDER, EVIDENCE_FOLDER];

/**
 * Throws `OutputError` where a result written to `out` would replace one of the files that it is made from, or a file of
 * a build. Other files of that name are replaced, as the help says.
 */
export async function refuseToReplace(out: string, inputs: readonly string[]): Promise<void> {
  const there = await identity(out);
  if (there === null) return;
  for (const input of inputs) {
    if ((await identity(input)) === there)
      throw new OutputError(
        `${out} is the recording that is read: nothing was written; choose another name for the result`,
      );
  }
  const folder = dirname(resolve(out));
  const inFolder = KEPT_FOLDERS.includes(basename(folder)) && (await isBuild(dirname(folder)));
  const atTop = (TOP_FILES as readonly string[]).includes(basename(out)) && (await isBuild(folder));
  if (inFolder || atTop)
    throw new OutputError(
      `${out} is a file of a build: nothing was written; choose another name for the result`,
    );
}

/** What tells a file from all others, also through links; null where there is none. */
async function identity(path: string): Promise<string | null> {
  const found = await stat(path, { bigint: true }).catch(() => null);
  return found === null ? null : `${found.dev}:${found.ino}`;
}

async function isBuild(folder: string): Promise<boolean> {
  return (await identity(join(folder, 'build.yaml'))) !== null;
}
