/** A firmware project on disk: the fixed files read from the program, the whole project written or nothing of it. */
import { randomUUID } from 'node:crypto';
import { mkdir, readdir, readFile, rename, rm } from 'node:fs/promises';
import { basename, dirname, join, resolve } from 'node:path';
import type { ProjectFile, RuntimeText } from '../firmware/project.ts';
import { RUNTIME_FILES } from '../firmware/project.ts';
import { codeOf } from './disk.ts';
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

/** Files of these names in a folder say that it holds a project of ours, which may be replaced. */
const MARKS = ['gateway.h', 'gateway.c'];
/** Without it nothing of a project compiles. */
const HEADER = 'gateway.h';

/**
 * Writes a project into a new folder, an empty one, or one that holds an earlier project. All files are on the disk
 * before the first is put in its place, and the header is taken away first and put back last: a project that is half
 * old and half new never compiles.
 * @throws SaveError when the folder holds something else, or a file cannot be written.
 */
export async function writeProject(folder: string, files: readonly ProjectFile[]): Promise<void> {
  const there = await namesIn(folder);
  if (there !== null && there.length > 0 && !MARKS.some((mark) => there.includes(mark))) {
    throw new SaveError(`${folder} holds files that are no project of this tool; name a new or empty folder`);
  }
  const target = resolve(folder);
  const temporary = `.${basename(target)}.${randomUUID().slice(0, 8)}.tmp`;
  const aside = there === null ? join(dirname(target), temporary) : join(target, temporary);
  let made: string | undefined;
  try {
    made = await mkdir(aside, { recursive: true });
    for (const { path, content } of files) {
      await mkdir(dirname(join(aside, path)), { recursive: true });
      await writeFileAtomic(join(aside, path), content);
    }
    if (there === null) await rename(aside, target);
    else await replaceFiles(aside, target, files);
  } catch (error) {
    if (made !== undefined) await rm(made, { recursive: true, force: true });
    if (error instanceof SaveError) throw new SaveError(error.message.replaceAll(aside, folder));
    throw new SaveError(`${folder} could not be written (${codeOf(error)})`);
  }
}

async function replaceFiles(aside: string, target: string, files: readonly ProjectFile[]): Promise<void> {
  await rm(join(target, HEADER), { force: true });
  const order = [...files.filter((f) => f.path !== HEADER), ...files.filter((f) => f.path === HEADER)];
  for (const { path } of order) {
    await mkdir(dirname(join(target, path)), { recursive: true });
    await rename(join(aside, path), join(target, path));
  }
  await rm(aside, { recursive: true, force: true });
}

/** null where the folder is not there. Throws `SaveError` where it is none, or may not be read. */
async function namesIn(folder: string): Promise<string[] | null> {
  try {
    return await readdir(folder);
  } catch (error) {
    const code = codeOf(error);
    if (code === 'ENOENT') return null;
    if (code === 'ENOTDIR') throw new SaveError(`${folder} is a file: name a new or empty folder`);
    throw new SaveError(`${folder} may not be looked into by this user (${code}): name another folder`);
  }
}
