/** Hidden files in `captures/` that a recording lies in until it is whole and wanted; those of processes that ended are removed. */
import { randomUUID } from 'node:crypto';
import { readdir, rm, stat } from 'node:fs/promises';
import { hostname, uptime } from 'node:os';
import { join } from 'node:path';
import { isAlive } from './alive.ts';
import { CAPTURES_FOLDER } from './files.ts';

/** A fresh name of such a file; it says whose it is, so that another process knows whether it still is anybody's. */
export function incomingPath(folder: string): string {
  const name = `.incoming.${computer()}.${process.pid}.${randomUUID().slice(0, 8)}.tmp`;
  return join(folder, CAPTURES_FOLDER, name);
}

/** Behind the name may stand what `writeCaptureFile` adds while it writes. */
const PATTERN = /^\.{1,2}incoming\.(.+)\.(\d+)\.[0-9a-f]{8}\.tmp(\.[0-9a-f]{8}\.tmp)?$/;

/** Removes what ended processes of this computer left; returns how many. What cannot be removed stays. */
export async function removeLeftIncoming(folder: string): Promise<number> {
  let removed = 0;
  for (const name of await readdir(join(folder, CAPTURES_FOLDER)).catch(() => [])) {
    const [, host, pid] = PATTERN.exec(name) ?? [];
    if (host !== computer()) continue;
    const path = join(folder, CAPTURES_FOLDER, name);
    const changed = (await stat(path).catch(() => null))?.mtimeMs ?? Number.POSITIVE_INFINITY;
    if (isAlive(Number(pid)) && changed > startOf(Number(pid))) continue;
    await rm(path, { force: true }).then(
      () => removed++,
      () => undefined,
    );
  }
  return removed;
}

/** Nothing of that process can be older than this, milliseconds since 1970: a number is given again after a restart. */
function startOf(pid: number): number {
  if (pid === process.pid) return performance.timeOrigin - 1000;
  return Date.now() - uptime() * 1000 - 1000;
}

function computer(): string {
  return hostname().replace(/[^\w-]/g, '_') || 'here';
}
