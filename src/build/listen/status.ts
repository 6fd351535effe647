/** What a running recording tells other processes: a small file in the build's `.cache/listening/`, renewed each second. */
import { mkdir, readdir, readFile, rename, stat, unlink, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import type { ListenState } from './model.ts';

export interface ListeningStatus {
  /** File name in `captures/`. */
  name: string;
  frames: number;
  elapsedS: number;
  /** Seconds since the last bytes came. */
  quietS: number;
  buses: {
    bus: number;
    framesPerSecond: number | null;
    bitsPerSecond: number | null;
    errorFrames: number;
    ids: number;
  }[];
  openCues: string[];
}

/** A status that was not renewed for this long is that of a process that was killed, milliseconds. */
const OVER_AFTER_MS = 5000;

export class StatusFile {
  readonly #folder: string;
  readonly #path: string;
  #writing: Promise<void> = Promise.resolve();
  #state: 'on' | 'over' = 'on';

  constructor(folder: string, name: string) {
    this.#folder = join(folder, '.cache', 'listening');
    this.#path = join(this.#folder, `${name}.json`);
  }

  /** Failures are nobody's concern: the recording matters, and the next second tries again. */
  write({ name, summary, elapsedS, quietS, openCues }: ListenState): Promise<void> {
    const status: ListeningStatus = {
      name,
      frames: summary.frames,
      elapsedS,
      quietS,
      buses: summary.buses.map(({ bus, framesPerSecond, bitsPerSecond, errorFrames, ids }) => ({
        bus,
        framesPerSecond,
        bitsPerSecond,
        errorFrames,
        ids: ids.length,
      })),
      openCues,
    };
    this.#writing = this.#writing
      .then(async () => {
        if (this.#state === 'over') return;
        await mkdir(this.#folder, { recursive: true });
        await writeFile(`${this.#path}.tmp`, JSON.stringify(status));
        await rename(`${this.#path}.tmp`, this.#path);
      })
      .catch(() => undefined);
    return this.#writing;
  }

  async remove(): Promise<void> {
    this.#state = 'over';
    await this.#writing;
    await unlink(this.#path).catch(() => undefined);
  }
}

/** What is being recorded into the build now, by any process that sees this folder. */
export async function listeningNow(folder: string, nowMs: number): Promise<ListeningStatus[]> {
  const place = join(folder, '.cache', 'listening');
  const names = (await readdir(place).catch(() => [])).filter((name) => name.endsWith('.json')).sort();
  const found: ListeningStatus[] = [];
  for (const name of names) {
    try {
      const path = join(place, name);
      const { mtimeMs } = await stat(path);
      if (nowMs - mtimeMs < OVER_AFTER_MS)
        found.push(JSON.parse(await readFile(path, 'utf8')) as ListeningStatus);
    } catch {
      // Removed meanwhile.
    }
  }
  return found;
}
