/** Recordings as files: read whatever their name and format, written whole or not at all. */
import { type FileHandle, open, rename, rm } from 'node:fs/promises';
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
    throw named(path, error);
  }
}

/**
 * Writes the capture to `path`, whole or not at all.
 * @param format name of a format that can be written; default: by the ending of the file name
 * @throws CaptureError naming the file where the format cannot hold the capture or the disk refuses
 */
export async function writeCaptureFile(path: string, capture: Capture, format?: string): Promise<void> {
  const chosen = format
    ? FORMATS.find((f) => f.name === format)
    : FORMATS.find((f) => f.extensions.some((ending) => path.toLowerCase().endsWith(ending)));
  if (!chosen?.write) {
    const known = FORMATS.filter((f) => f.write).map((f) => `${f.name} (${f.extensions.join(' ')})`);
    throw new CaptureError(
      `${path}: ${format ? `"${format}"` : 'this ending'} is no format that can be written; known are ${known.join(', ')}.`,
    );
  }
  const temporary = `${path}.${process.pid}.part`;
  try {
    const file = await open(temporary, 'wx');
    try {
      for (const piece of chosen.write(capture)) await writeWhole(file, piece);
      await file.sync();
    } finally {
      await file.close();
    }
    await rename(temporary, path);
  } catch (error) {
    await rm(temporary, { force: true });
    throw named(path, error);
  }
}

/** The error as a `CaptureError` with the file's name, where it is one that the user can do something about. */
function named(path: string, error: unknown): unknown {
  if (error instanceof CaptureError) return new CaptureError(`${path}: ${error.message}`);
  const code = (error as NodeJS.ErrnoException | null)?.code;
  if (code && code in FILE_WORDS) return new CaptureError(`${path}: ${FILE_WORDS[code]}`);
  if (error instanceof RangeError) {
    return new CaptureError(
      `${path}: the recording does not fit into memory; split it into shorter recordings.`,
    );
  }
  return error;
}

async function writeWhole(file: FileHandle, piece: Uint8Array): Promise<void> {
  for (let at = 0; at < piece.length; ) {
    at += (await file.write(piece, at, piece.length - at)).bytesWritten;
  }
}

const FILE_WORDS: Record<string, string> = {
  ENOENT: 'there is no such file.',
  EISDIR: 'this is a folder; a recording is a file.',
  EACCES: 'the file is not allowed to this user.',
  EPERM: 'the file is not allowed to this user.',
  ENOTDIR: 'part of this path is a file, not a folder.',
  ENOSPC: 'the disk is full; free some space and try again, nothing was written.',
  EDQUOT: 'the disk quota is used up; nothing was written.',
  EROFS: 'the disk is read-only; nothing was written.',
  EFBIG: 'the disk takes no file of this size; nothing was written.',
  EIO: 'the medium does not answer (input/output error); try another disk.',
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
  // A frame of eight bytes takes 32 bytes as pcap and some 40 as text, and a reader wants room for a piece ahead;
  // room that is not used costs no memory.
  state.builder = new CaptureBuilder(Math.ceil((state.total + 4 * PIECE) / 32));
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
