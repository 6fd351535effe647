/** Takes the unpacked content of a recording, recognises its format, and hands it to that format's reader or into a file. */
import { CaptureError } from '../capture/error.ts';
import type { CaptureFormat, CaptureReader } from '../capture/formats/format.ts';
import { FORMATS } from '../capture/formats/list.ts';
import { CaptureBuilder } from '../capture/store.ts';
import type { CaptureRead, CaptureReadOptions } from './captureFile.ts';
import { FILE_FORMATS, type FileFormat } from './fileFormats.ts';
import { Spill } from './spill.ts';

/** Bytes by which a format is recognised. */
const HEAD = 64 * 1024;
/** Readers that work at the end give way this often. */
const BREATH_MS = 20;
/** Copying a file into memory against reading it there, about. */
const PUSHED = 0.1;
/** Read at once: so large that handing pieces over costs next to nothing (bench/capture.ts). */
export const PIECE = 1 << 22;

/** Bytes of a piece of a file of this size. */
export function pieceOf(size: number): number {
  return Math.min(PIECE, Math.max(HEAD, size));
}

export class Intake {
  builder: CaptureBuilder | null = null;
  readonly #options: CaptureReadOptions;
  readonly #size: number;
  #format: CaptureFormat | null = null;
  #reader: CaptureReader | null = null;
  /** The format inside, where it is one that is read as a whole file. */
  whole: FileFormat | null = null;
  #spill: Spill | null = null;
  /** Content held until there is enough of it to recognise the format. */
  #head = new Uint8Array(0);

  constructor(options: CaptureReadOptions, size: number) {
    this.#options = options;
    this.#size = size;
  }

  /** Whether nothing has come yet. */
  get empty(): boolean {
    return this.#reader === null && this.whole === null && this.#head.length === 0;
  }

  push(piece: Uint8Array): void {
    if (this.#spill) {
      this.#spill.push(piece);
      return;
    }
    if (this.#reader) {
      this.#reader.push(piece);
      return;
    }
    const head = new Uint8Array(this.#head.length + piece.length);
    head.set(this.#head);
    head.set(piece, this.#head.length);
    this.#head = head;
    if (head.length < HEAD) return;
    if (!this.#putAside()) this.#start();
  }

  /** The whole content as a file, where `whole` is a format. */
  spilled(): string {
    const spill = this.#spill as Spill;
    spill.end();
    return spill.path;
  }

  /** Says that nothing more comes of a recording that may be smaller than its head. */
  settle(): void {
    if (this.#reader === null && this.#spill === null) this.#putAside();
  }

  /** Removes what was put aside. */
  close(): void {
    this.#spill?.remove();
  }

  /** Whether the content has to be read as a whole file; it then goes into one. */
  #putAside(): boolean {
    const { format: name } = this.#options;
    const head = this.#head;
    this.whole =
      (name ? FILE_FORMATS.find((f) => f.name === name) : FILE_FORMATS.find((f) => f.recognises(head))) ??
      null;
    if (this.whole === null) return false;
    this.#spill = new Spill();
    this.#spill.push(head);
    this.#head = new Uint8Array(0);
    return true;
  }

  /** Share of the work that is done when all has come: readers that need it all at once begin then. */
  get pushed(): number {
    return this.#reader?.ending ? PUSHED : 1;
  }

  /** @throws the reason of the signal where it was aborted */
  async end(): Promise<CaptureRead> {
    const reader = this.#reader ?? this.#start();
    const { signal, onProgress } = this.#options;
    let breath = performance.now();
    for (const share of reader.ending?.() ?? []) {
      if (performance.now() - breath < BREATH_MS) continue;
      await new Promise((resolve) => setImmediate(resolve));
      signal?.throwIfAborted();
      onProgress?.((PUSHED + (1 - PUSHED) * share) * this.#size, this.#size, this.builder?.count ?? 0);
      breath = performance.now();
    }
    if (!reader.ending) reader.end();
    onProgress?.(this.#size, this.#size, this.builder?.count ?? 0);
    return {
      capture: (this.builder as CaptureBuilder).finish(),
      format: (this.#format as CaptureFormat).name,
      guess: reader.guess,
      notes: [...reader.notes],
    };
  }

  #start(): CaptureReader {
    const head = this.#head;
    if (head.length === 0) throw new CaptureError('The recording is empty: 0 bytes.');
    const { format: name, columns } = this.#options;
    const format = name
      ? FORMATS.find((f) => f.name === name)
      : (FORMATS.find((f) => f.recognises(head.subarray(0, HEAD))) ?? FORMATS.find((f) => f.name === 'text'));
    if (!format) {
      throw new CaptureError(
        `"${name}" is no format of recordings; known are ${[...FORMATS, ...FILE_FORMATS].map((f) => f.name).join(', ')}.`,
      );
    }
    this.#format = format;
    // A frame of eight bytes takes 32 bytes as pcap and some 40 as text, and a reader wants room for a piece ahead;
    // room that is not used costs no memory.
    this.builder = new CaptureBuilder(Math.ceil((this.#size + 4 * pieceOf(this.#size)) / 32));
    this.#reader = format.open(this.builder, { columns });
    this.#head = new Uint8Array(0);
    this.#reader.push(head);
    return this.#reader;
  }
}
