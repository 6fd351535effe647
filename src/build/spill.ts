/** A temporary file for what has to be read as a whole and comes in pieces: packed, or through a pipe. */
import { closeSync, mkdtempSync, openSync, rmSync, writeSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { CaptureError } from '../capture/error.ts';

/** Most bytes that are put aside: a small packed file can claim to be any number. */
export const MOST_SPILLED = 4 * 2 ** 30;

export class Spill {
  readonly path: string;
  readonly #folder: string;
  readonly #most: number;
  #file: number | null;
  #bytes = 0;

  /** @throws CaptureError where the folder for temporary files takes nothing */
  constructor(most = MOST_SPILLED) {
    this.#most = most;
    try {
      this.#folder = mkdtempSync(join(tmpdir(), 'bywright-'));
      this.path = join(this.#folder, 'recording');
      this.#file = openSync(this.path, 'wx', 0o600);
    } catch (error) {
      throw noRoom(error);
    }
  }

  /**
   * Writes at once rather than later: unpacking gives many parts for one piece, and they may not pile up in memory.
   * @throws CaptureError where there is no room, or too much comes
   */
  push(part: Uint8Array): void {
    this.#bytes += part.length;
    if (this.#bytes > this.#most) {
      throw new CaptureError(
        `What comes out of it is larger than ${this.#most / 2 ** 30} GiB: unpack it yourself, and split it into shorter recordings.`,
      );
    }
    try {
      for (let at = 0; at < part.length; ) at += writeSync(this.#file as number, part, at);
    } catch (error) {
      throw noRoom(error);
    }
  }

  /** Says that it is whole and can be read. */
  end(): void {
    if (this.#file !== null) closeSync(this.#file);
    this.#file = null;
  }

  remove(): void {
    this.end();
    rmSync(this.#folder, { recursive: true, force: true });
  }
}

function noRoom(error: unknown): CaptureError {
  const { code } = error as NodeJS.ErrnoException;
  return new CaptureError(
    `The recording has to be unpacked into the folder for temporary files (${tmpdir()}), which takes nothing more (${code}): free some space there, or name another folder in TMPDIR.`,
    { cause: error },
  );
}
