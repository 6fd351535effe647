/** Puts a recording that was read into `captures/`: first under a hidden name, then under its own, which is never another's. */
import { copyFile, mkdir, readdir, rename, rm, stat } from 'node:fs/promises';
import { join } from 'node:path';
import { CaptureError } from '../capture/error.ts';
import { type CaptureRead, writeCaptureFile } from './captureFile.ts';
import { codeOf } from './disk.ts';
import { fileHash } from './fileHash.ts';
import { CAPTURES_FOLDER, isRecording } from './files.ts';
import { incomingPath } from './incomingFiles.ts';
import { LockError, withLock } from './lock.ts';

/** A recording could not be taken in. */
export class ImportError extends Error {
  override name = 'ImportError';
}

export interface ReadyCapture {
  /** Where it lies, whole, in the form in which it will be kept; inside `captures/`, out of sight. */
  path: string;
  bytes: number;
  /** SHA-256 of those bytes, hex. */
  hash: string;
}

/** Formats that describe themselves are kept as they are, text as pcapng: its columns were inferred once and need not be again. */
export function keptName(name: string, format: string): string {
  // A name with a dot in front would be out of sight.
  const seen = name.replace(/^\.+/, '') || 'recording';
  return format !== 'text' ? seen : `${seen.replace(/\.gz$/i, '').replace(/\.[^.]*$/, '')}.pcapng`;
}

/** What is wrong with a name for a file in `captures/`, as one sentence, or null. */
export function nameTrouble(name: string): string | null {
  if (name === '') return 'the recording needs a name';
  // biome-ignore lint/suspicious/noControlCharactersInRegex: they are what is looked for.
  if (/[/\\:*?"<>|\u0000-\u001f\u007f]/.test(name))
    return 'a name may hold no / \\ : * ? " < > | and no control characters: not every disk takes them';
  if (Buffer.byteLength(name) > 200) return 'the name is longer than 200 bytes';
  if (!isRecording(name) || /[. ]$/.test(name))
    return 'a name may not start with a dot, end in a dot, a blank or .tmp, or be that of the note README';
  return null;
}

/** A name like this one that nothing in `captures/` has: "drive.pcapng", then "drive-2.pcapng". */
export async function freeName(folder: string, name: string): Promise<string> {
  const taken = new Set(await readdir(join(folder, CAPTURES_FOLDER)).catch(() => []));
  const [, stem, ending] = /^(.*?)((?:\.[^.]{1,8}){0,2})$/.exec(name) as unknown as [string, string, string];
  let free = name;
  for (let n = 2; taken.has(free); n++) free = `${stem}-${n}${ending}`;
  return free;
}

/** The recording of `captures/` that has the same bytes, or null. `hashOf` gives the SHA-256 of a file. */
export async function sameContent(
  folder: string,
  { path, bytes, hash }: ReadyCapture,
  hashOf: (path: string) => Promise<string> = fileHash,
): Promise<string | null> {
  const names = await readdir(join(folder, CAPTURES_FOLDER)).catch(() => []);
  for (const name of names.filter(isRecording).sort()) {
    const other = join(folder, CAPTURES_FOLDER, name);
    const found = await stat(other).catch(() => null);
    if (other === path || !found?.isFile() || found.size !== bytes) continue;
    if ((await hashOf(other).catch(() => '')) === hash) return name;
  }
  return null;
}

/**
 * Brings what was read from `file` beside the captures. With `copy` the file stays where it is, with `itself` it is
 * inside `captures/` already and is what will be kept, unless it has to be written anew.
 * @throws ImportError where the disk refuses, the signal's reason where it was aborted; then nothing is left
 */
export async function readyCapture(
  folder: string,
  file: string,
  { capture, format }: CaptureRead,
  by: 'copy' | 'itself',
  signal?: AbortSignal,
): Promise<ReadyCapture> {
  // A pipe gives its bytes once.
  const asItIs = format !== 'text' && (await stat(file)).isFile();
  const path = asItIs && by === 'itself' ? file : incomingPath(folder);
  try {
    await mkdir(join(folder, CAPTURES_FOLDER), { recursive: true });
    if (!asItIs) await writeCaptureFile(path, capture, 'pcapng', undefined, { signal });
    else if (path !== file) await copyFile(file, path);
    signal?.throwIfAborted();
    return { path, bytes: (await stat(path)).size, hash: await fileHash(path) };
  } catch (error) {
    if (path !== file) await rm(path, { force: true }).catch(() => undefined);
    if (signal?.aborted) throw error;
    throw new ImportError(`${join(folder, CAPTURES_FOLDER)} ${keepFailure(error)}: nothing was changed`);
  }
}

/**
 * Gives it its name, unless that is taken.
 * @throws ImportError where the name is taken or the disk refuses, LockError; it then still lies at `path`
 */
export async function keepReady(folder: string, { path }: ReadyCapture, name: string): Promise<void> {
  const target = join(folder, CAPTURES_FOLDER, name);
  try {
    await withLock(folder, async () => {
      await refuseTaken(folder, name);
      await rename(path, target);
    });
  } catch (error) {
    if (error instanceof ImportError || error instanceof LockError) throw error;
    throw new ImportError(`${target} ${keepFailure(error)}: nothing was changed`);
  }
}

/** @throws ImportError where something in `captures/` has this name */
export async function refuseTaken(folder: string, name: string): Promise<void> {
  const target = join(folder, CAPTURES_FOLDER, name);
  const there = await stat(target).catch(() => null);
  if (there !== null)
    throw new ImportError(`${target}: this name is taken; rename the recording first, nothing was changed`);
}

function keepFailure(error: unknown): string {
  const code = codeOf(error instanceof CaptureError ? error.cause : error);
  if (code === 'ENOSPC' || code === 'EDQUOT')
    return 'could not take it because the disk is full; free some space and repeat';
  if (code === 'EACCES' || code === 'EPERM')
    return 'could not take it because this user may not write there; change the permission and repeat';
  if (code === 'EROFS') return 'could not take it because the disk is read-only';
  return `could not take it (${code})`;
}
