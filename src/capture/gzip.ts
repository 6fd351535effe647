/** Unpacks gzip piece by piece, keeping what can be unpacked where the packed data ends early or is damaged. */
import { createGunzip, type Gunzip } from 'node:zlib';

/** Whether a file that starts with these bytes is packed (RFC 1952: 1F 8B). */
export function isGzip(head: Uint8Array): boolean {
  return head[0] === 0x1f && head[1] === 0x8b;
}

export class GzipReader {
  readonly #gunzip: Gunzip;
  /** What `take` threw; passed on by the next call. */
  #thrown: unknown = null;
  #failed: NodeJS.ErrnoException | null = null;
  /** Resolves when nothing more will come. */
  readonly #over: Promise<void>;

  /** Each unpacked part goes to `take`, in order. */
  constructor(take: (part: Uint8Array) => void) {
    this.#gunzip = createGunzip({ chunkSize: 256 * 1024 });
    this.#gunzip.on('data', (part: Uint8Array) => {
      if (this.#thrown !== null) return;
      try {
        take(part);
      } catch (error) {
        this.#thrown = error;
      }
    });
    this.#over = new Promise((resolve) => {
      this.#gunzip.on('end', () => resolve());
      this.#gunzip.on('error', (error: NodeJS.ErrnoException) => {
        this.#failed = error;
        resolve();
      });
    });
  }

  /** Unpacks one piece of the packed data; the piece is not kept after the promise is kept. */
  async push(piece: Uint8Array): Promise<void> {
    if (this.#failed === null) {
      const written = new Promise<void>((resolve) => {
        this.#gunzip.write(piece, () => resolve());
      });
      await Promise.race([written, this.#over]);
    }
    if (this.#thrown !== null) throw this.#thrown;
  }

  /** Says that nothing more comes; returns a note where the packed data was not whole. */
  async end(): Promise<string[]> {
    if (this.#failed === null) this.#gunzip.end();
    await this.#over;
    if (this.#thrown !== null) throw this.#thrown;
    const failed = this.#failed as NodeJS.ErrnoException | null;
    if (failed === null) return [];
    return [
      failed.code === 'Z_BUF_ERROR'
        ? 'The gzip data ends too early: what was before the cut is kept.'
        : `The gzip data is damaged (${failed.message}): what was before is kept.`,
    ];
  }

  /** Frees what the unpacking holds, where it is given up early. */
  close(): void {
    this.#gunzip.destroy();
  }
}
