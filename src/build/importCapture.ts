/** Takes a recording into a build: `captures/` then holds it in a form that needs no guessing. */

import { randomUUID } from 'node:crypto';
import { copyFile, mkdir, rename, rm, stat } from 'node:fs/promises';
import { basename, join } from 'node:path';
import { CaptureError } from '../capture/error.ts';
import { timeSpan } from '../capture/span.ts';
import { type CaptureReadOptions, readCaptureFile, writeCaptureFile } from './captureFile.ts';
import { codeOf } from './disk.ts';
import { CAPTURES_FOLDER } from './files.ts';
import { LockError, withLock } from './lock.ts';

export interface ImportedCapture {
  /** File name in `captures/`. */
  name: string;
  frames: number;
  seconds: number;
  /** What was inferred about the file, one line. */
  guess: string;
  /** What was kept and what not. */
  notes: string[];
}

/** A recording could not be taken in. */
export class ImportError extends Error {}

/**
 * Reads `file` whole, so that nothing unreadable gets in, and keeps it: formats that describe themselves as they are,
 * text as pcapng, since its columns were inferred once and need not be again. The original stays untouched; nothing in
 * `captures/` is overwritten.
 * @throws ImportError when the folder is no build, nothing can be read, the name is taken, or the disk refuses.
 */
export async function importCapture(
  folder: string,
  file: string,
  options: CaptureReadOptions = {},
): Promise<ImportedCapture> {
  await refuseNoBuild(folder);
  const { capture, format, guess, notes } = await readCaptureFile(file, options);
  if (capture.count === 0) throw new ImportError(`${file}: no frame could be read; ${guess}`);
  // A pipe gives its bytes once.
  const asItIs = format !== 'text' && (await stat(file)).isFile();
  const name = keptName(basename(file), asItIs);
  const target = join(folder, CAPTURES_FOLDER, name);
  const refuseTaken = async () => {
    if (await exists(target))
      throw new ImportError(`${target}: this name is taken; rename the recording first, nothing was changed`);
  };
  await refuseTaken();
  const temporary = join(folder, CAPTURES_FOLDER, `.${name}.${randomUUID().slice(0, 8)}.tmp`);
  try {
    await mkdir(join(folder, CAPTURES_FOLDER), { recursive: true });
    if (asItIs) await copyFile(file, temporary);
    else await writeCaptureFile(temporary, capture, 'pcapng');
    options.signal?.throwIfAborted();
    await withLock(folder, async () => {
      await refuseTaken();
      await rename(temporary, target);
    });
  } catch (error) {
    await rm(temporary, { force: true }).catch(() => undefined);
    if (error instanceof ImportError || error instanceof LockError || options.signal?.aborted) throw error;
    throw new ImportError(`${target} ${keepFailure(error)}: nothing was changed`);
  }
  return { name, frames: capture.count, seconds: timeSpan(capture.time).seconds, guess, notes };
}

/** Self-describing recordings keep their name, others become pcapng; a name with a dot in front would be out of sight. */
function keptName(name: string, asItIs: boolean): string {
  const seen = name.replace(/^\.+/, '') || 'recording';
  return asItIs ? seen : `${seen.replace(/\.gz$/i, '').replace(/\.[^.]*$/, '')}.pcapng`;
}

async function refuseNoBuild(folder: string): Promise<void> {
  const { code } = await stat(join(folder, 'build.yaml')).then(
    () => ({ code: '' }),
    (error: NodeJS.ErrnoException) => ({ code: error.code ?? '' }),
  );
  if (code === '') return;
  if (code === 'EACCES' || code === 'EPERM')
    throw new ImportError(
      `${folder}: this user may not look into this folder; change the permission and repeat`,
    );
  throw new ImportError(
    `${folder}: no build.yaml there, so this is no build; start one with \`bywright new\`, nothing was changed`,
  );
}

async function exists(path: string): Promise<boolean> {
  return stat(path).then(
    () => true,
    () => false,
  );
}

function keepFailure(error: unknown): string {
  const code = codeOf(error instanceof CaptureError ? error.cause : error);
  if (code === 'ENOSPC' || code === 'EDQUOT')
    return 'could not be kept because the disk is full; free some space and repeat';
  if (code === 'EACCES' || code === 'EPERM')
    return 'could not be kept because this user may not write there; change the permission and repeat';
  if (code === 'EROFS') return 'could not be kept because the disk is read-only';
  return `could not be kept (${code})`;
}
