/** Takes a recording into a build: `captures/` then holds it in a form that needs no guessing. */
import { existsSync } from 'node:fs';
import { copyFile, mkdir, rename, rm } from 'node:fs/promises';
import { basename, join } from 'node:path';
import { type CaptureReadOptions, readCaptureFile, writeCaptureFile } from './captureFile.ts';

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
 * @throws ImportError when the folder is no build, nothing can be read, or the name is taken.
 */
export async function importCapture(
  folder: string,
  file: string,
  options: CaptureReadOptions = {},
): Promise<ImportedCapture> {
  if (!existsSync(join(folder, 'build.yaml'))) {
    throw new ImportError(
      `${folder}: no build.yaml there, so this is no build; start one with \`bywright new ${folder}\``,
    );
  }
  const { capture, format, guess, notes } = await readCaptureFile(file, options);
  if (capture.count === 0) throw new ImportError(`${file}: no frame could be read; ${guess}`);
  const asItIs = format !== 'text';
  const plain = basename(file).replace(/\.gz$/i, '');
  const name = asItIs ? basename(file) : `${plain.replace(/\.[^.]*$/, '')}.pcapng`;
  const target = join(folder, 'captures', name);
  if (existsSync(target))
    throw new ImportError(`${target}: this name is taken; rename the recording first, nothing was changed`);
  await mkdir(join(folder, 'captures'), { recursive: true });
  const temporary = `${target}.tmp`;
  try {
    if (asItIs) await copyFile(file, temporary);
    else await writeCaptureFile(temporary, capture, 'pcapng');
    await rename(temporary, target);
  } catch (error) {
    await rm(temporary, { force: true });
    throw error;
  }
  return { name, frames: capture.count, seconds: span(capture.time), guess, notes };
}

function span(time: Float64Array): number {
  let lo = Number.POSITIVE_INFINITY;
  let hi = Number.NEGATIVE_INFINITY;
  for (const t of time) {
    if (t < lo) lo = t;
    if (t > hi) hi = t;
  }
  return hi >= lo ? hi - lo : 0;
}
