/** Saves one text file of a build so that after any failure either the old or the new content is there, whole. */
import { createHash, randomUUID } from 'node:crypto';
import { lstat, mkdir, open, readdir, readFile, realpath, rename, stat, unlink } from 'node:fs/promises';
import { basename, dirname, join, sep } from 'node:path';
import { codeOf } from './disk.ts';
import { type LockOptions, withLock } from './lock.ts';

/** A save that did not happen; the message is one sentence that says why, and the old file is unchanged. */
export class SaveError extends Error {
  override name = 'SaveError';
}

/** The disk operations of a save, so that tests can let any of them fail. */
export interface SaveDisk {
  /** Creates the file (it must not be there) and writes it through to the disk. */
  writeThrough(path: string, bytes: Uint8Array, mode: number): Promise<void>;
  rename(from: string, to: string): Promise<void>;
  syncFolder(path: string): Promise<void>;
}

export interface SaveOptions extends LockOptions {
  disk?: SaveDisk;
}

/**
 * Writes `text` to `file` (relative to the build). `readHash` is `contentHash` of the bytes that the change was made
 * to, or null where the file was not there; if the file is another by now, nothing is written.
 * Throws `SaveError` or `LockError`.
 */
export async function saveText(
  folder: string,
  file: string,
  text: string,
  readHash: string | null,
  options: SaveOptions = {},
): Promise<void> {
  try {
    await withLock(folder, () => replace(folder, file, text, readHash, options.disk ?? realDisk), options);
  } catch (error) {
    throw error instanceof Error && ['SaveError', 'LockError'].includes(error.name)
      ? error
      : new SaveError(failureSentence(file, codeOf(error)));
  }
}

/**
 * Writes a file anywhere (an export, a dossier, evidence) so that it is never there half-written; an older one of the same
 * name is replaced. Throws `SaveError`.
 */
export async function writeFileAtomic(
  path: string,
  content: string | Uint8Array,
  disk: SaveDisk = realDisk,
): Promise<void> {
  try {
    await writeWhole(path, typeof content === 'string' ? Buffer.from(content) : content, 0o644, disk);
  } catch (error) {
    throw new SaveError(failureSentence(path, codeOf(error)));
  }
}

/** SHA-256 in hex. */
export function contentHash(bytes: Uint8Array | string): string {
  return createHash('sha256').update(bytes).digest('hex');
}

async function replace(
  folder: string,
  file: string,
  text: string,
  readHash: string | null,
  disk: SaveDisk,
): Promise<void> {
  const path = await targetPath(folder, file);
  const now = await readFile(path).catch((error) => {
    if (codeOf(error) === 'ENOENT') return null;
    throw error;
  });
  const nowHash = now === null ? null : contentHash(now);
  if (nowHash !== readHash) {
    const what = nowHash === null ? 'was removed' : readHash === null ? 'has been created' : 'was changed';
    throw new SaveError(
      `${file} ${what} by someone else since it was read: nothing was saved; load it again and repeat the change`,
    );
  }
  const bytes = Buffer.from(text);
  if (now !== null && bytes.equals(now)) return;
  const mode = now === null ? 0o644 : (await stat(path)).mode & 0o777;
  await removeLeftovers(path);
  await writeWhole(path, bytes, mode, disk);
}

/** Beside the target, through to the disk, then renamed over it: the name always leads to a whole file. */
async function writeWhole(path: string, bytes: Uint8Array, mode: number, disk: SaveDisk): Promise<void> {
  const temporary = join(dirname(path), `.${basename(path)}.${randomUUID().slice(0, 8)}.tmp`);
  try {
    await disk.writeThrough(temporary, bytes, mode);
    await disk.rename(temporary, path);
  } catch (error) {
    await unlink(temporary).catch(() => undefined);
    throw error;
  }
  await disk.syncFolder(dirname(path));
}

/** What a killed process left of its save; under the lock nobody else is at it. */
async function removeLeftovers(path: string): Promise<void> {
  const start = `.${basename(path)}.`;
  for (const name of await readdir(dirname(path)))
    if (name.startsWith(start) && name.endsWith('.tmp'))
      await unlink(join(dirname(path), name)).catch(() => undefined);
}

/** The real place of the file: through links, which stay links, but never out of the build. */
async function targetPath(folder: string, file: string): Promise<string> {
  const root = await realpath(folder);
  const wanted = join(root, file);
  if (!wanted.startsWith(root + sep))
    throw new SaveError(`${file} lies outside the build: nothing was saved`);
  await mkdir(dirname(wanted), { recursive: true });
  const linked = await lstat(wanted).then(
    (entry) => entry.isSymbolicLink(),
    () => false,
  );
  const path = linked ? await realpath(wanted) : join(await realpath(dirname(wanted)), basename(wanted));
  if (!path.startsWith(root + sep))
    throw new SaveError(`${file} is a link that leads out of the build: nothing was saved`);
  return path;
}

const realDisk: SaveDisk = {
  async writeThrough(path, bytes, mode) {
    const file = await open(path, 'wx', mode);
    try {
      await file.writeFile(bytes);
      await file.sync();
    } finally {
      await file.close();
    }
  },
  rename,
  async syncFolder(path) {
    // Windows cannot open a folder; its rename is journalled.
    if (process.platform === 'win32') return;
    const handle = await open(path, 'r');
    try {
      await handle.sync();
    } finally {
      await handle.close();
    }
  },
};

function failureSentence(file: string, code: string): string {
  const unchanged = 'the old content is unchanged';
  switch (code) {
    case 'ENOSPC':
    case 'EDQUOT':
      return `${file} could not be saved because the disk is full; ${unchanged}: free some space and repeat`;
    case 'EACCES':
    case 'EPERM':
      return `${file} could not be saved because this user may not write there; ${unchanged}: change the permission and repeat`;
    case 'EROFS':
      return `${file} could not be saved because the disk is read-only; ${unchanged}`;
    case 'ENOENT':
      return `${file} could not be saved because there is no folder ${dirname(file)}: make it and repeat`;
    case 'EISDIR':
      return `${file} could not be saved because it is a folder: name a file`;
    case 'ENOTDIR':
      return `${file} could not be saved because part of this path is a file: name a folder that is there`;
    case 'ENAMETOOLONG':
      return `${file} could not be saved because this name is too long for the disk: choose a shorter one`;
    default:
      return `${file} could not be saved (${code}); ${unchanged}`;
  }
}
