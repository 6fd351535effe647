/** What took long to work out, kept in the build by what it was worked out from and by which program. */
import { mkdir, readdir, readFile, rm, stat } from 'node:fs/promises';
import { join } from 'node:path';
import { contentHash, writeFileAtomic } from '../save.ts';
import { programVersion } from './readers.ts';

export interface WorkedOutKind {
  /** Begins the file name: "findings". */
  name: string;
  /** Parts of the program whose change makes the result another, as `programVersion` takes them. */
  sources: readonly string[];
}

const ENGINES = ['can', 'capture', 'findings'];

export const FINDINGS_KIND: WorkedOutKind = { name: 'findings', sources: ENGINES };
export const RELATIONS_KIND: WorkedOutKind = { name: 'relations', sources: ENGINES };
export const CUES_KIND: WorkedOutKind = { name: 'cues', sources: ENGINES };

/** The result for `key`, from `.cache/worked-out/` where it is there and whole, else made and kept. */
export async function workedOut<T>(
  build: string,
  kind: WorkedOutKind,
  key: string,
  make: () => Promise<T>,
): Promise<T> {
  const kept = await readWorkedOut<T>(build, kind, key);
  if (kept !== null) return kept;
  const value = await make();
  await keepWorkedOut(build, kind, key, value);
  return value;
}

/** null where it is not there, damaged, or of another program. */
export async function readWorkedOut<T>(build: string, kind: WorkedOutKind, key: string): Promise<T | null> {
  const { path, whole } = await placeOf(build, kind, key);
  try {
    const [head, line, sum] = (await readFile(path, 'utf8')).split('\n') as [string, string, string];
    if (head !== whole || sum !== contentHash(line)) return null;
    return JSON.parse(line, revived) as T;
  } catch {
    return null;
  }
}

/**
 * Keeps a result; where the disk does not take it, it is worked out again another time. Numbers without end and `Float64Array` come
 * back as they were, what is `undefined` does not.
 */
export async function keepWorkedOut(
  build: string,
  kind: WorkedOutKind,
  key: string,
  value: unknown,
): Promise<void> {
  const { path, whole } = await placeOf(build, kind, key);
  const line = JSON.stringify(value, stored);
  try {
    await mkdir(folderOf(build), { recursive: true });
    await writeFileAtomic(path, `${whole}\n${line}\n${contentHash(line)}\n`);
    await sweep(folderOf(build));
  } catch {
    // A cache that cannot be written is no reason to fail.
  }
}

async function placeOf(build: string, { name, sources }: WorkedOutKind, key: string) {
  const whole = `${name} ${key} ${await programVersion(sources)}`;
  return { whole, path: join(folderOf(build), `${name}.${contentHash(whole).slice(0, 24)}.json`) };
}

/** Folder of the results in a build. All of it can be deleted at any time. */
function folderOf(build: string): string {
  return join(build, '.cache', 'worked-out');
}

/** Results of an older program are never asked for again; the newest few hundred megabytes at most are worth their place. */
const KEPT_BYTES = 200e6;

async function sweep(folder: string): Promise<void> {
  const names = (await readdir(folder)).filter((n) => n.endsWith('.json'));
  const files = await Promise.all(
    names.map(async (n) => ({ path: join(folder, n), ...(await about(folder, n)) })),
  );
  let bytes = 0;
  for (const file of files.sort((a, b) => b.mtimeMs - a.mtimeMs)) {
    bytes += file.size;
    if (bytes > KEPT_BYTES) await rm(file.path, { force: true });
  }
}

async function about(folder: string, name: string): Promise<{ size: number; mtimeMs: number }> {
  return stat(join(folder, name)).catch(() => ({ size: 0, mtimeMs: 0 }));
}

/** JSON has neither numbers without end nor typed arrays. */
function stored(_: string, value: unknown): unknown {
  if (value instanceof Float64Array) return { $float64: Array.from(value) };
  if (typeof value === 'number' && !Number.isFinite(value)) return { $number: String(value) };
  return value;
}

function revived(_: string, value: unknown): unknown {
  if (value === null || typeof value !== 'object') return value;
  if ('$float64' in value) return Float64Array.from(value.$float64 as number[]);
  if ('$number' in value) return Number(value.$number);
  return value;
}
