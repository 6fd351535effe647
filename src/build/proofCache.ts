/**
 * Verdicts of the solver that were given before, in the build's `.cache/proof/`: one small file per query, named by the
 * SHA-256 of the solver's version, its bound on work and the exact text. Only `unsat` is kept, the verdict on which proofs
 * rest; a model is always asked for anew. A file that does not say exactly what its name stands for counts as none, so that
 * damage costs time and nothing else. It does not stop someone who forges one: docs/trust.md.
 */
import { createHash } from 'node:crypto';
import { mkdir, readdir, readFile, rm, stat, utimes } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { join } from 'node:path';
import type { Solver } from '../logic/solver.ts';
import { writeFileAtomic } from './save.ts';

export interface RememberingSolver extends Solver {
  /** Verdicts that were taken from the cache so far, and queries that the solver answered. */
  readonly remembered: number;
  readonly asked: number;
}

export interface ProofCacheOptions {
  /** Starts the solver; called when the first query is not in the cache. */
  open: () => Promise<Solver>;
  /** How many queries the solver answers at a time. */
  width: number;
  /** Version of the solver; by default that of the z3 package. */
  version?: string;
}

/** A solver that looks into the build's cache first. Where the cache cannot be read or written it is not used. */
export function rememberingSolver(folder: string, options: ProofCacheOptions): RememberingSolver {
  const { open, width, version = solverVersion() } = options;
  const cache = proofCacheFolder(folder);
  let solver: Promise<Solver> | null = null;
  let [remembered, asked] = [0, 0];
  return {
    width,
    get remembered() {
      return remembered;
    },
    get asked() {
      return asked;
    },
    async check(text, checkOptions = {}) {
      checkOptions.signal?.throwIfAborted();
      const key = keyOf(version, checkOptions.rlimit ?? 0, text);
      if (await isKept(cache, key)) {
        remembered++;
        return { verdict: 'unsat', values: new Map() };
      }
      solver ??= open();
      const answer = await (await solver).check(text, checkOptions);
      asked++;
      if (answer.verdict === 'unsat') await keep(cache, key);
      return answer;
    },
    async close() {
      if (solver !== null) await (await solver).close();
      await sweep(cache);
    },
  };
}

/** All of it can be deleted at any time. */
export function proofCacheFolder(folder: string): string {
  return join(folder, '.cache', 'proof');
}

/** More than some hundred proofs need; the oldest go first. */
const MOST_ENTRIES = 4000;

function keyOf(version: string, rlimit: number, text: string): string {
  return createHash('sha256').update(`z3 ${version}\nrlimit ${rlimit}\n${text}`).digest('hex');
}

function entryText(key: string): string {
  return `unsat ${key}\n`;
}

async function isKept(cache: string, key: string): Promise<boolean> {
  const path = join(cache, key);
  try {
    if ((await readFile(path, 'utf8')) !== entryText(key)) return false;
  } catch {
    return false;
  }
  const now = new Date();
  await utimes(path, now, now).catch(() => undefined);
  return true;
}

/** Written beside and renamed: a second process sees a whole entry or none, and both would write the same. */
async function keep(cache: string, key: string): Promise<void> {
  try {
    await mkdir(cache, { recursive: true });
    await writeFileAtomic(join(cache, key), entryText(key));
  } catch {
    // A full or read-only disk costs the next proof its time, not this one its verdict.
  }
}

async function sweep(cache: string): Promise<void> {
  const names = await readdir(cache).catch(() => []);
  if (names.length <= MOST_ENTRIES) return;
  const used = await Promise.all(
    names.map(async (name) => {
      const { mtimeMs } = await stat(join(cache, name)).catch(() => ({ mtimeMs: 0 }));
      return { name, mtimeMs };
    }),
  );
  used.sort((a, b) => b.mtimeMs - a.mtimeMs);
  for (const { name } of used.slice(MOST_ENTRIES / 2)) await rm(join(cache, name), { force: true });
}

function solverVersion(): string {
  const { version } = createRequire(import.meta.url)('z3-solver/package.json') as { version: string };
  return version;
}
