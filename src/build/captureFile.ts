/** Recordings as files: read whatever their name and format, written whole or not at all. */
import { randomUUID } from 'node:crypto';
import { type FileHandle, open, rename, unlink } from 'node:fs/promises';
import { basename, dirname, join } from 'node:path';
import { CaptureError } from '../capture/error.ts';
import type { CaptureFormat, Packing } from '../capture/formats/format.ts';
import { FORMATS } from '../capture/formats/list.ts';
import { GzipReader, isGzip } from '../capture/gzip.ts';
import { timeSpan } from '../capture/span.ts';
import type { Capture } from '../capture/store.ts';
import { FILE_FORMATS, type FileFormat } from './fileFormats.ts';
import { Intake, PIECE, pieceOf } from './intake.ts';

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
  /** Called about ten times a second at most, and at the end. Bytes are those of the file, also where it is packed. */
  onProgress?: ((bytesDone: number, bytesTotal: number, frames: number) => void) | undefined;
  signal?: AbortSignal | undefined;
}

export interface CaptureWriteOptions {
  /** For formats with packings inside; default: none. */
  packing?: Packing | undefined;
  /** Called about twenty times a second at most, and at the end. */
  onProgress?: ((framesDone: number, framesTotal: number) => void) | undefined;
  signal?: AbortSignal | undefined;
}

/** How a piece reaches the disk, so that tests can let it fail. */
export interface CaptureDisk {
  write(file: FileHandle, piece: Uint8Array): Promise<void>;
}

/**
 * Reads the recording at `path`; gzip is unpacked on the way. A recording whose end is missing is kept up to there.
 * @throws CaptureError naming the file where it cannot be read
 * @throws the signal's reason where it was aborted
 */
export async function readCaptureFile(path: string, options: CaptureReadOptions = {}): Promise<CaptureRead> {
  const { signal } = options;
  let unpacking: GzipReader | null = null;
  let intake: Intake | null = null;
  try {
    signal?.throwIfAborted();
    const file = await open(path, 'r');
    try {
      const found = await file.stat();
      const size = found.isFile() ? found.size : 0;
      const whole = found.isFile() ? await fileFormatOf(file, options.format) : null;
      if (whole) return await whole.read(path, options);
      const into = new Intake(options, size);
      intake = into;
      const frames = () => into.builder?.count ?? 0;
      let first = true;
      const onProgress: CaptureReadOptions['onProgress'] = (done, total, count) =>
        options.onProgress?.(done * into.pushed, total, count);
      const kind = found.isFile() ? 'file' : 'stream';
      for await (const piece of pieces(file, kind, size, frames, { ...options, onProgress })) {
        if (first && isGzip(piece)) unpacking = new GzipReader((part) => into.push(part));
        first = false;
        if (unpacking) await unpacking.push(piece);
        else into.push(piece);
      }
      const notes = unpacking ? await unpacking.end() : [];
      if (notes[0] && into.empty)
        throw new CaptureError(notes[0].replace(/:[^:]*$/, ', before anything of the recording comes out.'));
      into.settle();
      const { whole: inside } = into;
      if (notes[0] && inside)
        throw new CaptureError(
          notes[0].replace(
            /:[^:]*$/,
            `, and ${inside.name} cannot be read without its end: copy the file again.`,
          ),
        );
      const read = inside ? await inside.read(into.spilled(), options) : await into.end();
      return {
        ...read,
        guess: `${unpacking ? 'gzip, ' : ''}${read.guess}`,
        notes: [...notes.map((note) => keptNote(note, read.capture)), ...read.notes],
      };
    } finally {
      await file.close();
    }
  } catch (error) {
    throw named(path, error, READ_WORDS);
  } finally {
    unpacking?.close();
    intake?.close();
  }
}

/**
 * Writes the capture to `path`, whole or not at all; an older file of that name is replaced. Gives what the format does
 * not hold of it, one sentence each.
 * @param format name of a format that can be written; default: by the ending of the file name
 * @throws CaptureError naming the file where the format cannot hold the capture or the disk refuses
 * @throws the signal's reason where it was aborted; then nothing of it is left
 */
export async function writeCaptureFile(
  path: string,
  capture: Capture,
  format?: string,
  disk: CaptureDisk = realDisk,
  options: CaptureWriteOptions = {},
): Promise<string[]> {
  const all = [...FORMATS.filter((f) => f.write), ...FILE_FORMATS];
  const chosen = format
    ? all.find((f) => f.name === format)
    : all.find((f) => f.extensions.some((ending) => path.toLowerCase().endsWith(ending)));
  if (!chosen) {
    const known = all.map((f) => `${f.name} (${f.extensions.join(' ')})`);
    throw new CaptureError(
      `${path}: ${format ? `"${format}"` : 'this ending'} is no format that can be written; known are ${known.join(', ')}.`,
    );
  }
  const packings = 'packings' in chosen ? (chosen.packings ?? []) : [];
  if (options.packing && !packings.includes(options.packing)) {
    const able = FORMATS.filter((f) => f.packings?.length).map(
      (f) => `${f.name} (${f.extensions.join(' ')})`,
    );
    throw new CaptureError(
      `${path}: ${chosen.name} is not packed inside; formats that can be are ${able.join(', ')}.`,
    );
  }
  const temporary = join(dirname(path), `.${basename(path)}.${randomUUID().slice(0, 8)}.tmp`);
  try {
    const file = await open(temporary, 'wx');
    try {
      if ('read' in chosen) await chosen.write(temporary, capture, options);
      else await writePieces(file, capture, chosen, disk, options);
      options.signal?.throwIfAborted();
      await file.sync();
    } finally {
      await file.close();
    }
    await rename(temporary, path);
    return 'lost' in chosen ? (chosen.lost?.(capture) ?? []) : [];
  } catch (error) {
    await unlink(temporary).catch(() => undefined);
    throw named(path, error, WRITE_WORDS);
  }
}

async function writePieces(
  file: FileHandle,
  capture: Capture,
  format: CaptureFormat,
  disk: CaptureDisk,
  { packing, signal, onProgress }: CaptureWriteOptions,
): Promise<void> {
  let frames = 0;
  let breath = performance.now();
  const onFrames = (count: number) => {
    frames = count;
  };
  for (const piece of format.write?.(capture, { packing, onFrames }) ?? []) {
    signal?.throwIfAborted();
    await disk.write(file, piece);
    if (performance.now() - breath < 50) continue;
    // A write may be answered without a turn of the loop in which a signal could come.
    await new Promise((resolve) => setImmediate(resolve));
    onProgress?.(frames, capture.count);
    breath = performance.now();
  }
  onProgress?.(capture.count, capture.count);
}

const realDisk: CaptureDisk = {
  async write(file, piece) {
    for (let at = 0; at < piece.length; ) {
      at += (await file.write(piece, at, piece.length - at)).bytesWritten;
    }
  },
};

/** The file piece by piece: the next piece is read while the one before is worked on. Each is valid until the next. */
async function* pieces(
  file: FileHandle,
  /** Pipes have no places in them that one could read from. */
  from: 'file' | 'stream',
  size: number,
  frames: () => number,
  { signal, onProgress }: CaptureReadOptions,
): AsyncGenerator<Uint8Array, void, undefined> {
  const most = from === 'file' ? pieceOf(size) : PIECE;
  let buffer = new Uint8Array(most);
  let spare = new Uint8Array(most);
  let done = 0;
  let reported = Number.NEGATIVE_INFINITY;
  const place = () => (from === 'file' ? done : null);
  let reading = file.read(buffer, 0, most, place());
  for (;;) {
    const { bytesRead } = await reading;
    if (bytesRead === 0) break;
    done += bytesRead;
    reading = file.read(spare, 0, most, place());
    try {
      signal?.throwIfAborted();
      yield buffer.subarray(0, bytesRead);
    } catch (error) {
      await reading.catch(() => undefined);
      throw error;
    }
    [buffer, spare] = [spare, buffer];
    if (performance.now() - reported < 100) continue;
    onProgress?.(done, size, frames());
    await new Promise((resolve) => setImmediate(resolve));
    reported = performance.now();
  }
  onProgress?.(done, size, frames());
  signal?.throwIfAborted();
}

/** The format of a file that is read as a whole, or null where it is read piece by piece. */
async function fileFormatOf(file: FileHandle, name: string | undefined): Promise<FileFormat | null> {
  const head = new Uint8Array(16);
  await file.read(head, 0, head.length, 0);
  if (isGzip(head)) return null;
  if (name) return FILE_FORMATS.find((f) => f.name === name) ?? null;
  return FILE_FORMATS.find((f) => f.recognises(head)) ?? null;
}

/** The note on damaged packing with what it cost: how much of the recording is there, and that the rest is not. */
function keptNote(note: string, { count, time }: Capture): string {
  const { seconds } = timeSpan(time);
  const frames = `${count.toLocaleString('en')} ${count === 1 ? 'frame' : 'frames'}`;
  return note.replace(/\.$/, `, ${frames} in ${seconds.toFixed(1)} s; what came behind is missing.`);
}

/** The error as a `CaptureError` with the file's name, where it is one that the user can do something about. */
function named(path: string, error: unknown, words: Record<string, string>): unknown {
  if (error instanceof CaptureError) return new CaptureError(`${path}: ${error.message}`);
  const code = (error as NodeJS.ErrnoException | null)?.code;
  if (code && code in words) return new CaptureError(`${path}: ${words[code]}`, { cause: error });
  if (error instanceof RangeError) {
    return new CaptureError(
      `${path}: the recording does not fit into memory; split it into shorter recordings.`,
    );
  }
  return error;
}

const READ_WORDS: Record<string, string> = {
  ENOENT: 'there is no such file.',
  EISDIR: 'this is a folder; a recording is a file.',
  ENOTDIR: 'part of this path is a file, not a folder.',
  EACCES: 'this user may not read this file; change its permission.',
  EPERM: 'this user may not read this file; change its permission.',
  ELOOP: 'these links lead in a circle; name the file itself.',
  ENAMETOOLONG: 'no file has a name as long as this.',
  ENXIO: 'nothing can be read from this; name a file or a pipe.',
  EIO: 'the medium does not answer (input/output error); try another disk.',
};

const WRITE_WORDS: Record<string, string> = {
  ENOENT: 'its folder is not there; make it first, nothing was written.',
  EISDIR: 'this is a folder; a recording is a file.',
  ENOTDIR: 'part of this path is a file, not a folder.',
  EACCES: 'this user may not write there; change the permission, nothing was written.',
  EPERM: 'this user may not write there; change the permission, nothing was written.',
  ENAMETOOLONG: 'this name is too long for the disk; choose a shorter one.',
  ENOSPC: 'the disk is full; free some space and try again, nothing was written.',
  EDQUOT: 'the disk quota is used up; free some space and try again, nothing was written.',
  EROFS: 'the disk is read-only; nothing was written.',
  EFBIG: 'the disk takes no file of this size; nothing was written.',
  EIO: 'the medium does not answer (input/output error); try another disk.',
};
