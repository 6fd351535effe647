/** What stands beside a cached capture: from which file and by which readers it was made, and what they said. */
import { mkdir, readdir, readFile, rename, rm, stat } from 'node:fs/promises';
import { join } from 'node:path';
import { z } from 'zod';
import { CAPTURES_FOLDER } from '../files.ts';
import { contentHash, writeFileAtomic } from '../save.ts';
import type { PlainLayout } from './plainLayout.ts';

const place = z.int().nonnegative();
const small = z.union([place, z.strictObject({ all: z.int().min(0).max(255) })]);

const entrySchema = z.strictObject({
  form: z.literal('cached/2'),
  /** What the cached frames were made from, and how. */
  key: z.strictObject({ sha256: z.string(), readers: z.string(), options: z.string() }),
  /** The file as it stood when its content was looked at; the same again means the same content. */
  stamp: z.strictObject({ id: z.string(), lookedAtMs: z.number() }),
  /** File name beside this entry, and where in it what lies. */
  parquet: z.string().regex(/\.[0-9a-f]{16}\.parquet$/),
  layout: z.strictObject({
    groups: z.array(
      z.strictObject({
        rows: place,
        t: place,
        bus: small,
        id: place,
        flags: small,
        length: small,
        data: place,
        dataBytes: place,
        sum: z.string(),
      }),
    ),
    bytes: place,
  }),
  originNs: z.string().regex(/^\d{1,19}$/),
  busNames: z.array(z.tuple([z.number(), z.string()])),
  format: z.string(),
  guess: z.string(),
  notes: z.array(z.string()),
});

export type Entry = z.output<typeof entrySchema>;

/** Folder of the cache in a build. All of it can be deleted at any time. */
export function cacheFolder(build: string): string {
  return join(build, '.cache', CAPTURES_FOLDER);
}

/** The entry of a capture; `damaged` where something stands in its place that is none. */
export async function readEntry(build: string, name: string): Promise<Entry | 'none' | 'damaged'> {
  let text: string;
  try {
    text = await readFile(entryPath(build, name), 'utf8');
  } catch {
    return 'none';
  }
  try {
    const [line, hash] = text.split('\n') as [string, string];
    if (hash !== contentHash(line)) return 'damaged';
    const entry = entrySchema.parse(JSON.parse(line));
    return isParquetOf(name, entry.parquet) ? entry : 'damaged';
  } catch {
    return 'damaged';
  }
}

/**
 * Puts a Parquet file that was written as `temporary` in place and its entry over the one before, in this order: a second
 * process sees the old pair or the new one. Removes what the cache no longer needs.
 */
export async function putEntry(build: string, name: string, entry: Entry, temporary: string): Promise<void> {
  const folder = cacheFolder(build);
  await mkdir(folder, { recursive: true });
  await rename(temporary, join(folder, entry.parquet));
  const line = JSON.stringify(entry);
  await writeFileAtomic(entryPath(build, name), `${line}\n${contentHash(line)}\n`);
  await sweep(build, name, entry.parquet);
}

/** File name of the cached frames of `name` that are laid out so. */
export function parquetName(name: string, layout: PlainLayout): string {
  return `${name}.${contentHash(JSON.stringify(layout)).slice(0, 16)}.parquet`;
}

function isParquetOf(name: string, file: string): boolean {
  return file.startsWith(`${name}.`) && /^[0-9a-f]{16}\.parquet$/.test(file.slice(name.length + 1));
}

function entryPath(build: string, name: string): string {
  return join(cacheFolder(build), `${name}.json`);
}

/** What a killed process left is older than this. */
const LEFTOVER_MS = 3_600_000;

/** Removes older frames of this capture, those of captures that are gone, and what killed processes left. */
async function sweep(build: string, name: string, current: string): Promise<void> {
  const folder = cacheFolder(build);
  const captures = new Set(await readdir(join(build, CAPTURES_FOLDER)));
  for (const file of await readdir(folder)) {
    const owner = file.replace(/\.json$|\.[0-9a-f]{16}\.parquet$/, '');
    const old = isParquetOf(name, file) && file !== current;
    const orphan = owner !== file && !captures.has(owner);
    const leftover = file.endsWith('.tmp') && Date.now() - (await mtime(join(folder, file))) > LEFTOVER_MS;
    if (old || orphan || leftover) await rm(join(folder, file), { force: true });
  }
}

function mtime(path: string): Promise<number> {
  return stat(path).then(
    ({ mtimeMs }) => mtimeMs,
    () => Date.now(),
  );
}
