/** One hash over the text files of a build, to see whether anything changed. */
import { createHash } from 'node:crypto';
import { stat } from 'node:fs/promises';
import { join } from 'node:path';
import { listFolder, readText } from './disk.ts';
import { TEXT_FOLDERS, TOP_FILES } from './files.ts';

/**
 * SHA-256 in hex over names and bytes of all text files that are there, and over size and time of change of the data of
 * reference channels; captures and evidence do not count.
 */
export async function buildRevision(folder: string): Promise<string> {
  const files: string[] = [...TOP_FILES];
  const data: string[] = [];
  for (const name of TEXT_FOLDERS) {
    const { names } = await listFolder(folder, name);
    files.push(...names.filter((n) => n.endsWith('.yaml') || isCueTable(name, n)).map((n) => `${name}/${n}`));
    if (name === 'reference')
      data.push(...names.filter((n) => !n.endsWith('.yaml')).map((n) => `${name}/${n}`));
  }
  const hash = createHash('sha256');
  for (const file of files.sort()) {
    const read = await readText(folder, file);
    if (read.kind !== 'read') continue;
    hash.update(`${file}\0${read.bytes.length}\0`).update(read.bytes);
  }
  // Long recordings of a receiver are not read just to see that they are the same.
  for (const file of data.sort()) {
    const found = await stat(join(folder, file)).catch(() => null);
    if (found !== null) hash.update(`${file}\0${found.size}\0${found.mtimeMs}\0`);
  }
  return hash.digest('hex');
}

function isCueTable(folder: string, name: string): boolean {
  return folder === 'cues' && /\.csv$/i.test(name);
}
