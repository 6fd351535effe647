/** Tells when anything in the build's folder has changed. */
import { createHash } from 'node:crypto';
import { type FSWatcher, watch } from 'node:fs';
import { readdir, stat } from 'node:fs/promises';
import { join } from 'node:path';
import { CAPTURES_FOLDER, EVIDENCE_FOLDER, TEXT_FOLDERS } from '../build/files.ts';
import { listeningNow } from '../build/listen/index.ts';
import { buildRevision } from '../build/revision.ts';

export interface Watching {
  /** Looks now, without waiting for the system to tell. */
  look(): Promise<void>;
  close(): void;
}

/** Editors write a file in several steps; this long of quiet and the change is told, milliseconds. */
const QUIET_MS = 150;
/** Where the system cannot tell (network disks, too many watches), the folder is looked at this often. */
const LOOK_EVERY_MS = 3000;

const FOLDERS = ['', ...TEXT_FOLDERS, CAPTURES_FOLDER, EVIDENCE_FOLDER];

/**
 * Calls `changed` with the new mark whenever the text files, or names, sizes or times of captures and evidence, differ
 * from before. `first` is the mark to compare with.
 */
export function watchBuild(folder: string, first: string, changed: (mark: string) => void): Watching {
  const watchers = new Map<string, FSWatcher>();
  let mark = first;
  let quiet: NodeJS.Timeout | null = null;
  let closed = false;
  const look = async () => {
    open();
    const now = await folderMark(folder);
    if (closed || now === mark) return;
    mark = now;
    changed(now);
  };
  const stirred = () => {
    if (quiet !== null) clearTimeout(quiet);
    quiet = setTimeout(() => void look(), QUIET_MS);
    quiet.unref();
  };
  const open = () => {
    for (const name of FOLDERS) {
      if (closed || watchers.has(name)) continue;
      try {
        const watcher = watch(join(folder, name), { persistent: false }, stirred);
        const gone = () => {
          watcher.close();
          watchers.delete(name);
        };
        watcher.on('error', gone);
        watchers.set(name, watcher);
      } catch {
        // Not there yet, or the system gives no more watches: the regular look sees changes in it.
      }
    }
  };
  open();
  const regular = setInterval(() => void look(), LOOK_EVERY_MS);
  regular.unref();
  return {
    look,
    close() {
      closed = true;
      clearInterval(regular);
      if (quiet !== null) clearTimeout(quiet);
      for (const watcher of watchers.values()) watcher.close();
    },
  };
}

/** One text that differs whenever something in the build does. A recording that grows counts as changed when it is done. */
export async function folderMark(folder: string): Promise<string> {
  const hash = createHash('sha256').update(await buildRevision(folder));
  const growing = new Set((await listeningNow(folder, Date.now())).map(({ name }) => name));
  for (const name of [CAPTURES_FOLDER, EVIDENCE_FOLDER]) {
    const entries = await readdir(join(folder, name)).catch(() => []);
    for (const entry of entries.sort()) {
      const found = await stat(join(folder, name, entry)).catch(() => null);
      if (name === CAPTURES_FOLDER && growing.has(entry)) hash.update(`${name}/${entry}\0growing\0`);
      else if (found !== null && !entry.startsWith('.'))
        hash.update(`${name}/${entry}\0${found.size}\0${found.mtimeMs}\0`);
    }
  }
  return hash.digest('hex');
}
