/** A firmware project on disk: the fixed files read from the program, the whole project written or nothing of it. */
import { existsSync } from 'node:fs';
import { mkdir, readdir, readFile, rm } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import type { ProjectFile, RuntimeText } from '../firmware/project.ts';
import { RUNTIME_FILES } from '../firmware/project.ts';
import { packageRoot } from './packageRoot.ts';
import { SaveError, writeFileAtomic } from './save.ts';

/** The fixed C files that every project carries. */
export async function runtimeText(): Promise<RuntimeText> {
  const folder = join(packageRoot(), 'src', 'firmware', 'runtime');
  const texts = await Promise.all(
    RUNTIME_FILES.map(async (name) => [name, await readFile(join(folder, name), 'utf8')] as const),
  );
  return Object.fromEntries(texts) as RuntimeText;
}

/** A file of this name in the folder says that the folder holds a project of ours, which may be replaced. */
const MARK = 'gateway.h';

/**
 * Writes a project into a new folder, an empty one, or one that holds an earlier project.
 * @throws SaveError when the folder holds something else, or a file cannot be written.
 */
export async function writeProject(folder: string, files: readonly ProjectFile[]): Promise<void> {
  const made = !existsSync(folder);
  if (!made && !existsSync(join(folder, MARK)) && !(await isEmpty(folder))) {
    throw new SaveError(`${folder} holds files that are no project of this tool; name a new or empty folder`);
  }
  try {
    for (const { path, content } of files) {
      await mkdir(dirname(join(folder, path)), { recursive: true });
      await writeFileAtomic(join(folder, path), content);
    }
  } catch (error) {
    if (made) await rm(folder, { recursive: true, force: true });
    throw error;
  }
}

async function isEmpty(folder: string): Promise<boolean> {
  return (await readdir(folder)).length === 0;
}
