/** The first lines of a recording that is text, unpacked where it is packed. */
import { open } from 'node:fs/promises';
import { GzipReader, isGzip } from '../capture/gzip.ts';

/** Bytes of text looked at, as the reader does. */
const SAMPLE = 64 * 1024;
/** Packed bytes read at a time: few, since a little packed text can be very much text. */
const PIECE = 4096;

/** At most 400 whole lines without their ends; none where the file cannot be read. */
export async function sampleLines(path: string): Promise<string[]> {
  const file = await open(path, 'r').catch(() => null);
  if (file === null) return [];
  const parts: Uint8Array[] = [];
  let size = 0;
  const take = (part: Uint8Array) => {
    if (size < SAMPLE) parts.push(part.slice(0, SAMPLE - size));
    size += part.length;
  };
  let unpacking: GzipReader | null = null;
  let whole = false;
  try {
    const piece = new Uint8Array(PIECE);
    for (let at = 0; size < SAMPLE; ) {
      const { bytesRead } = await file.read(piece, 0, PIECE, at);
      whole = bytesRead === 0;
      if (whole) break;
      const got = piece.subarray(0, bytesRead);
      if (at === 0 && isGzip(got)) unpacking = new GzipReader(take);
      at += bytesRead;
      if (unpacking) await unpacking.push(got);
      else take(got);
    }
    if (whole) await unpacking?.end();
  } catch {
    return [];
  } finally {
    unpacking?.close();
    await file.close();
  }
  const lines = Buffer.concat(parts)
    .toString('latin1')
    .replace(/^\u00ef\u00bb\u00bf/, '')
    .split(/\r?\n/);
  if (!whole || lines.at(-1) === '') lines.pop();
  return lines.slice(0, 400);
}
