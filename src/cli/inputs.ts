/** What most commands start with: read captures with progress, load a build or say what is wrong with it. */

import { existsSync } from 'node:fs';
import { basename, dirname, join, resolve } from 'node:path';
import { openCapture } from '../build/cache/openCapture.ts';
import { type CaptureRead, type CaptureReadOptions, readCaptureFile } from '../build/captureFile.ts';
import { CAPTURES_FOLDER } from '../build/files.ts';
import { loadBuild } from '../build/load.ts';
import type { Build } from '../build/model.ts';
import { problemSentence } from '../build/problem.ts';
import { concatenate } from '../capture/select.ts';
import type { Capture } from '../capture/store.ts';
import { grouped } from './print.ts';
import { stage } from './progress.ts';

/** Thrown where a build cannot be used; the sentence holds every problem. */
export class BuildProblems extends Error {}

export interface CaptureOptions {
  /** Overrides the inferred columns of text: "time,bus,id,ext,data". */
  columns?: string;
  signal?: AbortSignal;
}

/**
 * Reads one capture or several; several are put end to end, a second apart, as recordings of one car (`capture`).
 * What was inferred and what could not be kept is printed on standard error.
 */
export async function readCaptures(
  paths: readonly string[],
  options: CaptureOptions,
): Promise<{ capture: Capture; captures: Capture[]; notes: string[] }> {
  const captures: Capture[] = [];
  const notes: string[] = [];
  for (const path of paths) {
    const step = stage('Reading');
    const read = await readAt(path, {
      ...options,
      onProgress: (done, total) => step.update(total > 0 ? done / total : 0),
    });
    step.done(`${path}: ${grouped(read.capture.count)} frames; ${read.guess}`);
    for (const note of read.notes) process.stderr.write(`note: ${path}: ${note}\n`);
    captures.push(read.capture);
    notes.push(...read.notes.map((note) => `${path}: ${note}`));
  }
  const capture = captures.length === 1 ? (captures[0] as Capture) : concatenate(captures, 1);
  return { capture, captures, notes };
}

/** A recording that lies in the captures of a build is opened through that build's cache. */
function readAt(path: string, options: CaptureReadOptions): Promise<CaptureRead> {
  const build = buildAround(path);
  return build === null ? readCaptureFile(path, options) : openCapture(build, basename(path), options);
}

/** The folder of the build in whose captures the recording lies, or null. */
export function buildAround(path: string): string | null {
  const folder = dirname(resolve(path));
  const build = dirname(folder);
  return basename(folder) === CAPTURES_FOLDER && existsSync(join(build, 'build.yaml')) ? build : null;
}

/** Loads a build for use; cautions go to standard error. Throws `BuildProblems` with all that stands in the way. */
export async function usableBuild(folder: string): Promise<Build> {
  const { build, problems } = await loadBuild(folder);
  const against = problems.filter((p) => p.weight !== 'caution');
  if (!build || against.length > 0) {
    const what = against.length === 1 ? 'one problem' : `${against.length} problems`;
    throw new BuildProblems(
      `${folder}: ${what} in the build\n${against.map((p) => `  ${problemSentence(p)}`).join('\n')}`,
    );
  }
  for (const p of problems) process.stderr.write(`caution: ${problemSentence(p)}\n`);
  return build;
}
