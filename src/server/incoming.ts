/** Recordings that a page sent and nobody has said yes or no to: each a hidden file in `captures/`, with what it reads as. */
import { randomUUID } from 'node:crypto';
import { mkdir, open, rm, statfs } from 'node:fs/promises';
import { join } from 'node:path';
import type { CaptureRead } from '../build/captureFile.ts';
import { CAPTURES_FOLDER } from '../build/files.ts';
import { incomingPath } from '../build/incomingFiles.ts';
import { nameTrouble, type ReadyCapture } from '../build/keepCapture.ts';
import type { TextPreview } from '../capture/text/preview.ts';
import type { IncomingFile } from './api.ts';
import { bodyPieces } from './body.ts';
import { Refusal } from './refusal.ts';

/** Largest recording that is taken over the page, bytes: some 40 million frames, which take 1.1 GB of memory when read. */
export const LARGEST_RECORDING_BYTES = 2 ** 31;
/** More than this wait for an answer: a page gone wrong. */
const MOST_WAITING = 8;
/** Readings kept of one recording: the inferred one and the last by columns of the person's own. */
const MOST_READINGS = 2;

export interface Arrived extends IncomingFile {
  path: string;
  /** By the columns named, "" where none were. */
  readings: Map<string, ArrivedReading>;
}

export interface ArrivedReading {
  read: Omit<CaptureRead, 'capture'> | null;
  /** What it holds, where it could be read. */
  contents: { frames: number; seconds: number; origin: string | null; buses: ArrivedBus[] } | null;
  /** Why it could not be read. */
  error: string | null;
  text: TextPreview | null;
  ready: ReadyCapture | null;
}

export interface ArrivedBus {
  bus: number;
  name: string | null;
  frames: number;
  /** Identifiers in text form, rising. */
  ids: string[];
}

export class Incoming {
  readonly #folder: string;
  readonly #waiting = new Map<string, Arrived>();
  #coming = 0;

  constructor(folder: string) {
    this.#folder = folder;
  }

  list(): IncomingFile[] {
    return [...this.#waiting.values()].map(({ id, name, bytes }) => ({ id, name, bytes }));
  }

  /** Bytes that the disk of the build has left; null where it does not tell. */
  async freeBytes(): Promise<number | null> {
    const disk = await statfs(this.#folder).catch(() => null);
    return disk === null ? null : disk.bavail * disk.bsize;
  }

  /**
   * Writes the body to the disk piece by piece. `announced` is its length where the request says it.
   * @throws Refusal where it is too large, is cut off, or the disk is full; then nothing is left of it
   */
  async receive(
    name: string,
    body: ReadableStream<Uint8Array> | null,
    announced: number | null,
  ): Promise<Arrived> {
    const trouble = nameTrouble(name);
    if (trouble !== null) throw new Refusal(400, `name: ${trouble}`);
    if (this.#waiting.size + this.#coming >= MOST_WAITING)
      throw new Refusal(
        409,
        `${MOST_WAITING} recordings wait for an answer already: accept or refuse some first`,
      );
    if (announced !== null) await this.#refuseTooLarge(announced);
    this.#coming++;
    const path = incomingPath(this.#folder);
    try {
      await mkdir(join(this.#folder, CAPTURES_FOLDER), { recursive: true });
      const bytes = await written(path, body);
      if (announced !== null && bytes !== announced)
        throw new Refusal(400, `only ${bytes} of ${announced} bytes came; send the recording again`);
      if (bytes === 0) throw new Refusal(422, `${name} is empty: 0 bytes; nothing was kept`);
      const arrived = { id: randomUUID(), name, bytes, path, readings: new Map() };
      this.#waiting.set(arrived.id, arrived);
      return arrived;
    } catch (error) {
      await rm(path, { force: true }).catch(() => undefined);
      throw error;
    } finally {
      this.#coming--;
    }
  }

  /** @throws Refusal 404 */
  get(id: string): Arrived {
    const arrived = this.#waiting.get(id);
    if (arrived === undefined)
      throw new Refusal(
        404,
        'this recording does not wait any more: it was accepted, refused or sent to a server that ended',
      );
    return arrived;
  }

  /** Keeps a reading, and lets go of the oldest where there are too many; of one that was refused meanwhile nothing stays. */
  async hold(arrived: Arrived, columns: string, reading: ArrivedReading): Promise<void> {
    if (this.#waiting.get(arrived.id) !== arrived) return removeReady(arrived, reading);
    arrived.readings.set(columns, reading);
    for (const [key, old] of arrived.readings) {
      if (arrived.readings.size <= MOST_READINGS) break;
      if (key === columns || key === '') continue;
      arrived.readings.delete(key);
      await removeReady(arrived, old);
    }
  }

  /** Forgets it and deletes its files; what was given a name in `captures/` is not among them any more. */
  async remove(id: string): Promise<void> {
    const arrived = this.#waiting.get(id);
    if (arrived === undefined) return;
    this.#waiting.delete(id);
    for (const reading of arrived.readings.values()) await removeReady(arrived, reading);
    await rm(arrived.path, { force: true }).catch(() => undefined);
  }

  async removeAll(): Promise<void> {
    for (const id of [...this.#waiting.keys()]) await this.remove(id);
  }

  async #refuseTooLarge(bytes: number): Promise<void> {
    if (bytes > LARGEST_RECORDING_BYTES) throw tooLarge();
    const free = await this.freeBytes();
    if (free !== null && bytes > free)
      throw new Refusal(
        507,
        `the disk has ${(free / 1e6).toFixed(0)} MB left and the recording takes ${(bytes / 1e6).toFixed(0)} MB: free some space and repeat`,
      );
  }
}

async function removeReady(arrived: Arrived, { ready }: ArrivedReading): Promise<void> {
  if (ready !== null && ready.path !== arrived.path)
    await rm(ready.path, { force: true }).catch(() => undefined);
}

async function written(path: string, body: ReadableStream<Uint8Array> | null): Promise<number> {
  const file = await open(path, 'wx');
  try {
    let bytes = 0;
    for await (const piece of bodyPieces(body)) {
      bytes += piece.length;
      // Counted while it comes in: the announced length may be missing or a lie.
      if (bytes > LARGEST_RECORDING_BYTES) throw tooLarge();
      for (let at = 0; at < piece.length; ) at += (await file.write(piece, at)).bytesWritten;
    }
    await file.sync();
    return bytes;
  } finally {
    await file.close();
  }
}

function tooLarge(): Refusal {
  return new Refusal(
    413,
    `the recording is larger than ${LARGEST_RECORDING_BYTES / 2 ** 30} GiB: cut it into shorter ones, or copy it into captures/ by hand`,
  );
}
