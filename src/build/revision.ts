/** One hash over the text files of a build, to see whether anything changed. */
import { createHash } from 'node:crypto';
import { listFolder, readText } from './disk.ts';
import { TEXT_FOLDERS, TOP_FILES } from './files.ts';

/** SHA-256 in hex over names and bytes of all text files that are there; captures and evidence do not count. */
export async function buildRevision(folder: string): Promise<string> {
  const files: string[] = [...TOP_FILES];
  for (const name of TEXT_FOLDERS) {
    const { names } = await listFolder(folder, name);
    files.push(...names.filter((n) => n.endsWith('.yaml')).map((n) => `${name}/${n}`));
  }
  const hash = createHash('sha256');
  for (const file of files.sort()) {
    const read = await readText(folder, file);
    if (read.kind !== 'read') continue;
    hash.update(`${file}\0${read.bytes.length}\0`).update(read.bytes);
  }
  return hash.digest('hex');
}
