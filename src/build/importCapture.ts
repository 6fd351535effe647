/** Takes a recording into a build: `captures/` then holds it in a form that needs no guessing. */

import { rm, stat } from 'node:fs/promises';
import { basename, join } from 'node:path';
import { timeSpan } from '../capture/span.ts';
import { type CaptureReadOptions, readCaptureFile } from './captureFile.ts';
import { CAPTURES_FOLDER } from './files.ts';
import { removeLeftIncoming } from './incomingFiles.ts';
import { ImportError, keepReady, keptName, readyCapture, refuseTaken, sameContent } from './keepCapture.ts';

export { ImportError } from './keepCapture.ts';

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
  await removeLeftIncoming(folder);
  const read = await readCaptureFile(file, options);
  const { capture, guess } = read;
  if (capture.count === 0) throw new ImportError(`${file}: no frame could be read; ${guess}`);
  const name = keptName(basename(file), (await stat(file)).isFile() ? read.format : 'text');
  await refuseTaken(folder, name);
  const ready = await readyCapture(folder, file, read, 'copy', options.signal);
  try {
    const same = await sameContent(folder, ready);
    options.signal?.throwIfAborted();
    await keepReady(folder, ready, name);
    const notes = same === null ? read.notes : [...read.notes, sameNote(same)];
    return { name, frames: capture.count, seconds: timeSpan(capture.time).seconds, guess, notes };
  } catch (error) {
    await rm(ready.path, { force: true }).catch(() => undefined);
    throw error;
  }
}

function sameNote(name: string): string {
  return `${join(CAPTURES_FOLDER, name)} has the same content, byte for byte: one of the two can go.`;
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
