/**
 * A recording that grows: whole pcapng blocks appended to `captures/<name>.pcapng`. What is handed over is with the
 * system at once, so that a killed process loses nothing of it, and on the disk within a second, so that a power cut
 * loses no more. The file is complete at every moment and needs no rewriting at the end: blocks are appended without
 * gaps and no index stands in front of them.
 */
import { type FileHandle, mkdir, open, unlink } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { codeOf } from '../disk.ts';
import { CAPTURES_FOLDER } from '../files.ts';
import { ListenError } from './error.ts';

/** How bytes reach the disk, so that tests can let it fail. */
export interface RecordingDisk {
  append(file: FileHandle, bytes: Uint8Array): Promise<void>;
  sync(file: FileHandle): Promise<void>;
}

/** Told to sync this often, milliseconds: half of the second that may be lost, the rest is for the disk. */
const SYNC_EVERY_MS = 400;
/** A sync that takes longer breaks the promise of one second. */
const SLOW_SYNC_MS = 600;

export class Recording {
  readonly path: string;
  readonly #file: FileHandle;
  readonly #disk: RecordingDisk;
  readonly #timer: NodeJS.Timeout;
  /** Bytes of whole blocks in the file. */
  #bytes = 0;
  #synced = 0;
  #syncing: Promise<void> | null = null;
  #slowest = 0;

  private constructor(path: string, file: FileHandle, disk: RecordingDisk) {
    this.path = path;
    this.#file = file;
    this.#disk = disk;
    this.#timer = setInterval(() => void this.#sync().catch(() => undefined), SYNC_EVERY_MS);
  }

  /**
   * Creates the file; one of that name must not be there.
   * @throws ListenError where the name is taken or the folder cannot be written
   */
  static async create(folder: string, name: string, disk: RecordingDisk = realDisk): Promise<Recording> {
    const path = join(folder, CAPTURES_FOLDER, name);
    try {
      await mkdir(dirname(path), { recursive: true });
      const file = await open(path, 'ax');
      await syncFolder(dirname(path));
      return new Recording(path, file, disk);
    } catch (error) {
      const code = codeOf(error);
      if (code === 'EEXIST')
        throw new ListenError(`${path}: this name is taken; choose another with --name, nothing was changed`);
      throw new ListenError(`${path}: the recording cannot be begun, ${failureWords(code)}`);
    }
  }

  get bytes(): number {
    return this.#bytes;
  }

  /** Longest time that a sync took, seconds, where it was so long that more than a second could be lost; else null. */
  get slowSyncS(): number | null {
    return this.#slowest > SLOW_SYNC_MS ? this.#slowest / 1000 : null;
  }

  /**
   * Appends whole blocks.
   * @throws ListenError where the disk refuses; the file then ends with the last block that was appended whole
   */
  async append(blocks: readonly Uint8Array[]): Promise<void> {
    const bytes = blocks.length === 1 ? (blocks[0] as Uint8Array) : Buffer.concat(blocks);
    try {
      await this.#disk.append(this.#file, bytes);
    } catch (error) {
      await this.#file.truncate(this.#bytes).catch(() => undefined);
      throw new ListenError(
        `${this.path}: the recording ends here, ${failureWords(codeOf(error))}; all before is kept`,
      );
    }
    this.#bytes += bytes.length;
  }

  /** Brings what is left to the disk and closes the file. */
  async close(): Promise<void> {
    clearInterval(this.#timer);
    try {
      await this.#syncing;
      await this.#sync();
    } finally {
      await this.#file.close();
    }
  }

  /** Closes and removes a file in which nothing is worth keeping. */
  async discard(): Promise<void> {
    clearInterval(this.#timer);
    await this.#syncing?.catch(() => undefined);
    await this.#file.close();
    await unlink(this.path).catch(() => undefined);
  }

  #sync(): Promise<void> {
    if (this.#syncing !== null || this.#synced === this.#bytes) return Promise.resolve();
    const upTo = this.#bytes;
    const start = performance.now();
    this.#syncing = this.#disk
      .sync(this.#file)
      .then(() => {
        this.#synced = upTo;
      })
      .finally(() => {
        this.#slowest = Math.max(this.#slowest, performance.now() - start);
        this.#syncing = null;
      });
    return this.#syncing;
  }
}

const realDisk: RecordingDisk = {
  async append(file, bytes) {
    for (let at = 0; at < bytes.length; ) at += (await file.write(bytes, at, bytes.length - at)).bytesWritten;
  },
  sync: (file) => file.datasync(),
};

async function syncFolder(path: string): Promise<void> {
  // Windows cannot open a folder; its file system keeps a journal of names.
  if (process.platform === 'win32') return;
  const handle = await open(path, 'r');
  try {
    await handle.sync();
  } finally {
    await handle.close();
  }
}

function failureWords(code: string): string {
  switch (code) {
    case 'ENOSPC':
      return 'the disk is full: free some space';
    case 'EDQUOT':
      return 'the disk quota is used up: free some space';
    case 'EROFS':
      return 'the disk is read-only';
    case 'EACCES':
    case 'EPERM':
      return 'this user may not write there: change the permission';
    case 'EIO':
      return 'the medium does not answer (input/output error): try another disk';
    default:
      return `the disk refuses (${code})`;
  }
}
