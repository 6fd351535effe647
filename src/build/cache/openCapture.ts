/** Opens a capture of a build: from its cache where that is quicker and still true, else from the file itself. */
import { randomUUID } from 'node:crypto';
import { existsSync } from 'node:fs';
import { mkdir, open, rm, stat } from 'node:fs/promises';
import { join } from 'node:path';
import { FORMATS } from '../../capture/formats/list.ts';
import { isGzip } from '../../capture/gzip.ts';
import type { Capture } from '../../capture/store.ts';
import { type CaptureRead, type CaptureReadOptions, readCaptureFile } from '../captureFile.ts';
import { fileHash } from '../fileHash.ts';
import { CAPTURES_FOLDER } from '../files.ts';
import { cacheFolder, type Entry, parquetName, putEntry, readEntry } from './entry.ts';
import type { PlainLayout } from './plainLayout.ts';
import { readPlain } from './plainRead.ts';
import { writePlain } from './plainWrite.ts';
import { readersVersion } from './readers.ts';

export interface OpenedCapture extends CaptureRead {
  from: 'file' | 'cache';
  /** Fulfilled when the cache is written, where it is: the frames can be used before. Never rejected. */
  cached: Promise<'already' | 'written' | 'not needed' | 'not possible'>;
}

export interface OpenOptions extends CaptureReadOptions {
  /** SHA-256 of the file in hex where the caller knows it. */
  hash?: string | undefined;
  /** Recordings with fewer frames are read anew each time; default 50,000. */
  leastFrames?: number | undefined;
}

/** Below this, nobody waits for the reader. */
const LEAST_FRAMES = 50_000;
/** Readers that are quicker than the cache (bench/store.ts), unless the file is packed. */
const QUICK: readonly string[] = ['pcap', 'pcapng'];
/** A file that was changed this shortly before it was looked at may be changed again without another time stamp. */
const STAMP_MS = 2500;

/**
 * Reads `captures/<name>` of the build in `folder`. What takes longer to read than its frames do is kept as Parquet
 * under `.cache/`, by content and reader version; that folder can be deleted at any time and a damaged file in it is made anew.
 * @throws CaptureError naming the file where it cannot be read
 * @throws the signal's reason where it was aborted
 */
export async function openCapture(
  folder: string,
  name: string,
  options: OpenOptions = {},
): Promise<OpenedCapture> {
  const path = join(folder, CAPTURES_FOLDER, name);
  if (!(await isSlow(path, options.format)))
    return { ...(await readCaptureFile(path, options)), from: 'file', cached: Promise.resolve('not needed') };
  const before = await stamp(path);
  const found = await fromCache(folder, name, path, options);
  if (typeof found === 'object') return { ...found, from: 'cache', cached: Promise.resolve('already') };
  const read = await readCaptureFile(path, options);
  const cached =
    read.capture.count < (options.leastFrames ?? LEAST_FRAMES)
      ? Promise.resolve('not needed' as const)
      : write(folder, name, path, before, read, options).then(
          () => 'written' as const,
          () => 'not possible' as const,
        );
  const notes =
    found === 'damaged' ? [...read.notes, `The cache of ${name} was damaged and is made anew.`] : read.notes;
  return { ...read, notes, from: 'file', cached };
}

/** SHA-256 in hex of a capture's file where the cache knows it and the file has not been touched since; null otherwise. */
export async function cachedHash(folder: string, name: string): Promise<string | null> {
  const entry = await readEntry(folder, name);
  if (typeof entry === 'string') return null;
  const now = await stamp(join(folder, CAPTURES_FOLDER, name)).catch(() => null);
  return now !== null && isUntouched(entry, now) ? entry.key.sha256 : null;
}

/** Whether the file is of a kind that the cache opens sooner than its own reader. */
async function isSlow(path: string, format: string | undefined): Promise<boolean> {
  try {
    const file = await open(path, 'r');
    try {
      const head = new Uint8Array(4096);
      const { bytesRead } = await file.read(head, 0, head.length, 0);
      const start = head.subarray(0, bytesRead);
      if (bytesRead === 0) return false;
      if (isGzip(start)) return true;
      if (format) return !QUICK.includes(format);
      return !QUICK.includes(FORMATS.find((f) => f.recognises(start))?.name ?? 'text');
    } finally {
      await file.close();
    }
  } catch {
    // The reader says what is wrong with the file.
    return false;
  }
}

async function fromCache(
  folder: string,
  name: string,
  path: string,
  options: OpenOptions,
): Promise<CaptureRead | 'none' | 'damaged'> {
  const entry = await readEntry(folder, name);
  if (typeof entry === 'string') return entry;
  if (entry.key.readers !== (await readersVersion()) || entry.key.options !== optionsKey(options))
    return 'none';
  if (!(await isSame(entry, path, options.hash))) return 'none';
  const frames = join(cacheFolder(folder), entry.parquet);
  const { onProgress, signal } = options;
  try {
    const file = await open(frames, 'r');
    try {
      const { layout, format, guess, notes } = entry;
      const count = layout.groups.reduce((total, { rows }) => total + rows, 0);
      const read = await readPlain(file, layout, (frames) => {
        signal?.throwIfAborted();
        onProgress?.(Math.round((layout.bytes * frames) / count), layout.bytes, frames);
      });
      if (read === null) return 'damaged';
      const busNames = new Map(entry.busNames);
      const capture = {
        ...read,
        originNs: BigInt(entry.originNs),
        ...(busNames.size > 0 ? { busNames } : {}),
      };
      return { capture, format, guess, notes };
    } finally {
      await file.close();
    }
  } catch {
    signal?.throwIfAborted();
    // A second process may have removed it in the meantime: that is no damage.
    return existsSync(frames) ? 'damaged' : 'none';
  }
}

/** Whether the file has the content that the entry was made from, by its stamp where that can be trusted. */
async function isSame(entry: Entry, path: string, hash: string | undefined): Promise<boolean> {
  if (hash) return hash === entry.key.sha256;
  const now = await stamp(path);
  return isUntouched(entry, now) || (await fileHash(path)) === entry.key.sha256;
}

function isUntouched(entry: Entry, now: Stamp): boolean {
  return entry.stamp.lookedAtMs - now.changedMs > STAMP_MS && now.id === entry.stamp.id;
}

async function write(
  folder: string,
  name: string,
  path: string,
  before: Stamp,
  read: CaptureRead,
  options: OpenOptions,
): Promise<void> {
  const temporary = join(cacheFolder(folder), `${name}.${randomUUID().slice(0, 8)}.tmp`);
  try {
    await mkdir(cacheFolder(folder), { recursive: true });
    const layout = await writeFrames(temporary, read.capture);
    const sha256 = await fileHash(path);
    // A recording that is still growing is cached when it is opened next.
    if ((await stamp(path)).id !== before.id) throw new Error('the capture changed while it was read');
    const { format, guess, notes } = read;
    const entry: Entry = {
      form: 'cached/2',
      key: { sha256, readers: await readersVersion(), options: optionsKey(options) },
      stamp: { id: before.id, lookedAtMs: before.lookedAtMs },
      parquet: parquetName(name, layout),
      layout,
      originNs: String(read.capture.originNs),
      busNames: [...(read.capture.busNames ?? [])],
      format,
      guess,
      notes: [...notes],
    };
    await putEntry(folder, name, entry, temporary);
  } catch (error) {
    await rm(temporary, { force: true });
    throw error;
  }
}

async function writeFrames(path: string, capture: Capture): Promise<PlainLayout> {
  const file = await open(path, 'wx');
  try {
    const pieces = writePlain(capture);
    for (;;) {
      const { done, value } = pieces.next();
      if (done) return value;
      await file.writeFile(value);
    }
  } finally {
    await file.sync();
    await file.close();
  }
}

function optionsKey({ columns, format }: OpenOptions): string {
  return JSON.stringify([columns ?? null, format ?? null]);
}

interface Stamp {
  /** Size, times and number of the file. */
  id: string;
  changedMs: number;
  lookedAtMs: number;
}

async function stamp(path: string): Promise<Stamp> {
  const lookedAtMs = Date.now();
  const { size, mtimeNs, ctimeNs, ino, mtimeMs, ctimeMs } = await stat(path, { bigint: true });
  return {
    id: `${size} ${mtimeNs} ${ctimeNs} ${ino}`,
    changedMs: Math.max(Number(mtimeMs), Number(ctimeMs)),
    lookedAtMs,
  };
}
