/** Accepted entries held against every recording of a build; recordings that were tested before are not read again. */

import { join } from 'node:path';
import { CaptureError } from '../capture/error.ts';
import type { Capture } from '../capture/store.ts';
import { cachedHash, openCapture } from './cache/openCapture.ts';
import { type WorkedOutKind, workedOut } from './cache/workedOut.ts';
import { type Contradiction, contradictionsIn, type Recorded } from './contradictions.ts';
import { fileHash } from './fileHash.ts';
import { CAPTURES_FOLDER } from './files.ts';
import type { Build } from './model.ts';
import { contentHash } from './save.ts';

export interface RetestedBuild {
  /** Recordings that were tested. */
  captures: string[];
  /** Recordings that could not be read, with why. */
  left: { name: string; why: string }[];
  contradictions: Contradiction[];
}

export interface RetestOptions {
  signal?: AbortSignal;
  onProgress?: (share: number, name: string) => void;
  /** How recordings are read, where the caller keeps them. */
  read?: (name: string) => Promise<Capture>;
}

const KIND: WorkedOutKind = {
  name: 'retest',
  sources: ['can', 'capture', 'dictionary', 'findings/cues', 'findings/relations', 'build/contradictions'],
};

/** @throws the reason of `signal` when it is aborted. */
export async function retestAll(build: Build, options: RetestOptions = {}): Promise<RetestedBuild> {
  const { signal, onProgress } = options;
  const result: RetestedBuild = { captures: [], left: [], contradictions: [] };
  const entries = contentHash(JSON.stringify([build.buses, build.dictionaries]));
  for (const [i, name] of build.captures.entries()) {
    signal?.throwIfAborted();
    onProgress?.(i / build.captures.length, name);
    const cues = cuesOf(build, name);
    try {
      const hash =
        (await cachedHash(build.folder, name)) ?? (await fileHash(join(build.folder, CAPTURES_FOLDER, name)));
      const key = `${hash} ${name} ${entries} ${contentHash(JSON.stringify(cues))}`;
      const found = await workedOut(build.folder, KIND, key, async () => {
        const capture = options.read
          ? await options.read(name)
          : (await openCapture(build.folder, name, { signal })).capture;
        return contradictionsIn(build, { name, capture, cues }, options);
      });
      result.captures.push(name);
      result.contradictions.push(...found);
    } catch (error) {
      if (!(error instanceof CaptureError)) throw error;
      result.left.push({ name, why: error.message });
    }
  }
  onProgress?.(1, '');
  return result;
}

/** What the sheets of the build say was done in a recording. */
export function cuesOf(build: Pick<Build, 'cueSheets'>, capture: string): Recorded['cues'] {
  return build.cueSheets
    .filter((sheet) => sheet.capture === capture)
    .flatMap(({ cues }) => cues.map(({ name, startS, endS, level }) => ({ name, startS, endS, level })));
}
