/** Real recordings beside the repository (`../shared/data`). */
import { existsSync, readdirSync } from 'node:fs';
import { resolve } from 'node:path';
import { readCaptureFile } from '../../src/build/captureFile.ts';
import { concatenate } from '../../src/capture/select.ts';
import type { Capture } from '../../src/capture/store.ts';

export const DATA = resolve('../shared/data');
export const DATA_IS_HERE = existsSync(DATA);

/** One or more recordings, a minute of silence between them. */
export async function readRecordings(...names: string[]): Promise<Capture> {
  const captures: Capture[] = [];
  for (const name of names) captures.push((await readCaptureFile(resolve(DATA, name))).capture);
  return concatenate(captures, 60);
}

/** The recordings of one folder, by name. */
export function recordingsIn(folder: string): string[] {
  return readdirSync(resolve(DATA, folder))
    .filter((file) => file.endsWith('.csv.gz'))
    .sort()
    .map((file) => `${folder}/${file}`);
}
