/** Which program made a cache: a sum over its own text, so that no change to it can be forgotten. */
import { createHash } from 'node:crypto';
import { readdir, readFile } from 'node:fs/promises';
import { dirname, join, relative } from 'node:path';
import { fileURLToPath } from 'node:url';

/** SHA-256 (first 16 hex digits) over the files that turn recordings into frames and frames into the cache. */
export function readersVersion(): Promise<string> {
  return programVersion(READERS);
}

/** The same over the files whose paths, from the root of the program, begin with one of `sources`. */
export function programVersion(sources: readonly string[]): Promise<string> {
  const key = sources.join();
  const sum = known.get(key) ?? summed(sources);
  known.set(key, sum);
  return sum;
}

const known = new Map<string, Promise<string>>();

const READERS = ['can', 'capture', 'build/cache', 'build/parquet', 'build/captureFile'];

async function summed(sources: readonly string[]): Promise<string> {
  const root = join(dirname(fileURLToPath(import.meta.url)), '..', '..');
  const files = (await readdir(root, { recursive: true, withFileTypes: true }))
    .filter((entry) => entry.isFile() && /(?<!\.d)\.[jt]s$/.test(entry.name))
    .map((entry) => join(entry.parentPath, entry.name))
    .filter((path) => sources.some((source) => relative(root, path).replaceAll('\\', '/').startsWith(source)))
    .sort();
  const hash = createHash('sha256');
  for (const path of files) hash.update(`${relative(root, path)}\n`).update(await readFile(path));
  return hash.digest('hex').slice(0, 16);
}
