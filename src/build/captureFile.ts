/** Reads a recording from a file, whatever its name and format. */
import { open } from 'node:fs/promises';
import { createGunzip } from 'node:zlib';
import { CaptureError } from '../capture/error.ts';
import type { CaptureFormat, CaptureReader } from '../capture/formats/format.ts';
import { FORMATS } from '../capture/formats/list.ts';
import { type Capture, CaptureBuilder } from '../capture/store.ts';

export interface CaptureRead {
  capture: Capture;
  /** Name of the format in which it was read. */
  format: string;
  /** One line: what was recognised or inferred. */
  guess: string;
  /** What was kept and what was not, one sentence each. */
  notes: string[];
}

export interface CaptureReadOptions {
  /** Name of a format; default: recognised from the content. */
  format?: string | undefined;
  /** Text only: the columns in order, as in "time,bus,id,ext,data", instead of the inferred ones. */
  columns?: string | undefined;
  /** Called about ten times a second at most, and at the end. Bytes are those of the file, also where it is compressed. */
  onProgress?: ((bytesDone: number, bytesTotal: number, frames: number) => void) | undefined;
  signal?: AbortSignal | undefined;
}

/** Read at once: large enough to hide the call, small enough to stay in the processor's cache. */
const PIECE = 1 << 20;
const HEAD = 64 * 1024;

/**
 * Reads the recording at `path`; gzip is unpacked on the way. A recording whose end is missing is kept up to there.
 * @throws CaptureError naming the file where it cannot be read
 * @throws the signal's reason where it was aborted
 */
export async function readCaptureFile(path: string, options: CaptureReadOptions = {}): Promise<CaptureRead> {
  try {
    return await read(path, options);
  } catch (error) {
    if (error instanceof CaptureError) throw new CaptureError(`${path}: ${error.message}`);
    const code = (error as NodeJS.ErrnoException).code;
    if (code && code in FILE_WORDS) throw new CaptureError(`${path}: ${FILE_WORDS[code]}`);
    if (error instanceof RangeError) {
      throw new CaptureError(
        `${path}: the recording does not fit into memory: split it into shorter recordings.`,
      );
    }
    throw error;
  }
}

const FILE_WORDS: Record<string, string> = {
  ENOENT: 'there is no such file.',
  EISDIR: 'this is a folder; a recording is a file.',
  EACCES: 'the file may not be read by this user.',
  EPERM: 'the file may not be read by this user.',
  EIO: 'the medium gives a read error; copy the file to another disk first.',
};

async function read(path: string, options: CaptureReadOptions): Promise<CaptureRead> {
  const { signal, onProgress } = options;
  signal?.throwIfAborted();
  const file = await open(path, 'r');
  try {
    const total = (await file.stat()).size;
    const state: ReadState = {
      options,
      total,
      builder: null,
      reader: null,
      format: null,
      head: new Uint8Array(0),
    };
    let done = 0;
    let buffer = new Uint8Array(PIECE);
    let spare = new Uint8Array(PIECE);
    let unpack: Unpacker | null = null;
    let reported = 0;
    let { bytesRead } = await file.read(buffer, 0, PIECE, 0);
    for (let first = 1; bytesRead > 0; first = 0) {
      signal?.throwIfAborted();
      const piece = buffer.subarray(0, bytesRead);
      done += bytesRead;
      if (first && piece[0] === 0x1f && piece[1] === 0x8b) unpack = unpacker((part) => feed(state, part));
      // The next piece is read while this one is parsed.
      const next = file.read(spare, 0, PIECE, done);
      try {
        if (unpack) await unpack.push(piece);
        else feed(state, piece);
      } finally {
        bytesRead = (await next).bytesRead;
      }
      [buffer, spare] = [spare, buffer];
      const now = performance.now();
      if (onProgress && now - reported > 100) {
        reported = now;
        onProgress(done, total, state.builder?.count ?? 0);
        await new Promise((resolve) => setImmediate(resolve));
      }
    }
    signal?.throwIfAborted();
    const notes = unpack ? await unpack.end() : [];
    const reader = state.reader ?? start(state);
    reader.end();
    const builder = state.builder as CaptureBuilder;
    onProgress?.(done, total, builder.count);
    return {
      capture: builder.finish(),
      format: (state.format as CaptureFormat).name,
      guess: `${unpack ? 'gzip, ' : ''}${reader.guess}`,
      notes: [...notes, ...reader.notes],
    };
  } finally {
    await file.close();
  }
}

interface ReadState {
  options: CaptureReadOptions;
  total: number;
  builder: CaptureBuilder | null;
  reader: CaptureReader | null;
  format: CaptureFormat | null;
  /** Content held until there is enough of it to recognise the format. */
  head: Uint8Array;
}

function feed(state: ReadState, piece: Uint8Array): void {
  if (state.reader) {
    state.reader.push(piece);
    return;
  }
  if (state.head.length === 0 && piece.length >= HEAD) {
    state.head = piece;
    start(state);
    return;
  }
  const both = new Uint8Array(state.head.length + piece.length);
  both.set(state.head);
  both.set(piece, state.head.length);
  state.head = both;
  if (both.length >= HEAD) start(state);
}

/** Chooses the format by the held content and hands that content over. */
function start(state: ReadState): CaptureReader {
  const { options, head } = state;
  if (head.length === 0) throw new CaptureError('the recording is empty (0 bytes).');
  const format = options.format
    ? FORMATS.find((f) => f.name === options.format)
    : (FORMATS.find((f) => f.recognises(head.subarray(0, HEAD))) ?? FORMATS.find((f) => f.name === 'text'));
  if (!format) {
    throw new CaptureError(
      `"${options.format}" is no format of recordings; known are ${FORMATS.map((f) => f.name).join(', ')}.`,
    );
  }
  state.format = format;
  // A frame of eight bytes takes 32 bytes as pcap and some 40 as text; room that is not used costs no memory.
  state.builder = new CaptureBuilder(Math.ceil(state.total / 32) + 16);
  state.reader = format.open(state.builder, { columns: options.columns });
  state.head = new Uint8Array(0);
  state.reader.push(head);
  return state.reader;
}

interface Unpacker {
  push(piece: Uint8Array): Promise<void>;
  /** Notes on how the packed data ended. */
  end(): Promise<string[]>;
}

/** Unpacks gzip and gives each part to `take`, in order; data that ends early or is damaged gives what was before. */
function unpacker(take: (part: Uint8Array) => void): Unpacker {
  const gunzip = createGunzip({ chunkSize: 256 * 1024 });
  let failed: NodeJS.ErrnoException | null = null;
  let thrown: unknown = null;
  let ended = () => {};
  const end = new Promise<void>((resolve) => {
    ended = resolve;
  });
  gunzip.on('data', (part: Uint8Array) => {
    if (thrown) return;
    try {
      take(part);
    } catch (error) {
      thrown = error;
    }
  });
  gunzip.on('error', (error: NodeJS.ErrnoException) => {
    failed = error;
    ended();
  });
  gunzip.on('end', () => ended());
  return {
    async push(piece) {
      if (failed) return;
      await new Promise<void>((resolve) => {
        gunzip.write(piece, () => resolve());
      });
      if (thrown) throw thrown;
    },
    async end() {
      if (!failed) gunzip.end();
      await end;
      if (thrown) throw thrown;
      if (failed === null) return [];
      const cut = (failed as NodeJS.ErrnoException).code === 'Z_BUF_ERROR';
      return [
        cut
          ? 'The gzip data ends too early: what was before the cut is kept.'
          : `The gzip data is damaged (${(failed as Error).message}): what was before is kept.`,
      ];
    },
  };
}
