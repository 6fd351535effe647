/** One writer at a time: a lock file in the build's `.cache/`, held only while a save lasts. */
import { randomUUID } from 'node:crypto';
import { mkdir, open, readFile, stat, unlink } from 'node:fs/promises';
import { hostname, uptime } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { isAlive } from './alive.ts';
import { codeOf } from './disk.ts';

export interface LockHolder {
  pid: number;
  /** Name of the computer. */
  host: string;
  /** ISO 8601 UTC. */
  since: string;
  /** Tells two holds of one process apart. */
  token: string;
}

/** Another process is writing. The message says who, since when, and what to do. */
export class LockError extends Error {
  override name = 'LockError';
  readonly holder: LockHolder;

  constructor(folder: string, holder: LockHolder) {
    const who = `process ${holder.pid}${holder.host === hostname() ? '' : ` on ${holder.host}`}`;
    super(
      `${folder} is being written by ${who} since ${holder.since}: nothing was saved; wait until it is done, or end it, and repeat` +
        (holder.host === hostname() ? '' : ` (if that computer is off, delete ${join('.cache', 'lock')})`),
    );
    this.holder = holder;
  }
}

/** A lock that stays half-written this long was left by a process that died while writing it. */
const HALF_WRITTEN_MS = 1000;
/** Taking over lasts milliseconds; a mark of it this old was left by a process that died. */
const TAKEOVER_MS = 10_000;

export interface LockOptions {
  /** How long to wait for another writer, milliseconds; default 2000. */
  waitMs?: number;
}

/**
 * Runs `work` while holding the build's lock. Throws `LockError` where another holds it longer than the wait. A lock
 * whose process has ended, or from before this computer was started, is taken over.
 */
export async function withLock<T>(
  folder: string,
  work: () => Promise<T>,
  { waitMs = 2000 }: LockOptions = {},
): Promise<T> {
  const path = join(folder, '.cache', 'lock');
  const mine: LockHolder = {
    pid: process.pid,
    host: hostname(),
    since: new Date().toISOString(),
    token: randomUUID(),
  };
  await mkdir(join(folder, '.cache'), { recursive: true });
  const giveUp = performance.now() + waitMs;
  while (!(await taken(path, mine))) {
    const holder = await readHolder(path);
    if (holder === null) continue;
    if (isStale(holder)) await removeStale(path, holder);
    else if (performance.now() > giveUp) throw new LockError(folder, holder);
    else await sleep(20);
  }
  try {
    return await work();
  } finally {
    if ((await readHolder(path))?.token === mine.token) await unlink(path).catch(() => undefined);
  }
}

async function taken(path: string, mine: LockHolder): Promise<boolean> {
  try {
    const file = await open(path, 'wx');
    try {
      await file.writeFile(`${JSON.stringify(mine)}\n`);
    } finally {
      await file.close();
    }
    return true;
  } catch (error) {
    if (codeOf(error) === 'EEXIST') return false;
    await unlink(path).catch(() => undefined);
    throw error;
  }
}

/** null where the lock has gone meanwhile. A lock that cannot be understood counts as just begun, then as stale. */
async function readHolder(path: string): Promise<LockHolder | null> {
  let text: string;
  try {
    text = await readFile(path, 'utf8');
  } catch (error) {
    if (codeOf(error) === 'ENOENT') return null;
    throw error;
  }
  try {
    const holder = JSON.parse(text) as Partial<LockHolder>;
    if (typeof holder.pid === 'number' && typeof holder.host === 'string' && typeof holder.since === 'string')
      return { pid: holder.pid, host: holder.host, since: holder.since, token: String(holder.token) };
  } catch {
    // Half-written: its writer is between creating and filling it, or died there.
  }
  await sleep(HALF_WRITTEN_MS);
  return (await readFile(path, 'utf8').catch(() => '')) === text
    ? { pid: 0, host: hostname(), since: new Date(0).toISOString(), token: text }
    : null;
}

function isStale(holder: LockHolder): boolean {
  if (holder.host !== hostname()) return false;
  const since = Date.parse(holder.since);
  if (!(since >= Date.now() - uptime() * 1000 - 1000)) return true;
  return !isAlive(holder.pid);
}

/** Removes a stale lock. Only one process at a time may, so that nobody removes the lock of one that was quicker. */
async function removeStale(path: string, stale: LockHolder): Promise<void> {
  const mark = `${path}.takeover`;
  try {
    await (await open(mark, 'wx')).close();
  } catch (error) {
    if (codeOf(error) !== 'EEXIST') throw error;
    const since = await stat(mark).then(
      (s) => s.mtimeMs,
      () => Date.now(),
    );
    if (Date.now() - since > TAKEOVER_MS) await unlink(mark).catch(() => undefined);
    else await sleep(20);
    return;
  }
  try {
    if ((await readHolder(path))?.token === stale.token) await unlink(path).catch(() => undefined);
  } finally {
    await unlink(mark).catch(() => undefined);
  }
}
