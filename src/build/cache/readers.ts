/** Which readers made a cache: a sum over their own program text, so that no change to them can be forgotten. */
import { createHash } from 'node:crypto';
import { readdir, readFile } from 'node:fs/promises';
import { dirname, join, relative } from 'node:path';
import { fileURLToPath } from 'node:url';

/** SHA-256 (first 16 hex digits) over the files that turn recordings into frames and frames into the cache. */
export function readersVersion(): Promise<string> {
  known ??= summed();
  return known;
}

let known: Promise<string> | null = null;

const SOURCES = ['can', 'capture', 'build/cache', 'build/parquet', 'build/captureFile'];

async function summed(): Promise<string> {
  const root = join(dirname(fileURLToPath(import.meta.url)), '..', '..');
  const files = (await readdir(root, { recursive: true, withFileTypes: true }))
    .filter((entry) => entry.isFile() && /(?<!\.d)\.[jt]s$/.test(entry.name))
    .map((entry) => join(entry.parentPath, entry.name))
    .filter((path) => SOURCES.some((source) => relative(root, path).replaceAll('\\', '/').startsWith(source)))
    .sort();
  const hash = createHash('sha256');
  for (const path of files) hash.update(`${relative(root, path)}\n`).update(await readFile(path));
  return hash.digest('hex').slice(0, 16);
}
