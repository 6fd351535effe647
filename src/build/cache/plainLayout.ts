/** Where the columns of frames lie in the cache's own Parquet, and the sum that tells whether they are whole. */
import { createCipheriv } from 'node:crypto';

/** A column of bytes: where it lies, in bytes from the start of the file, or the one value that all its rows have. */
export type SmallColumn = number | { all: number };

/** One row group. */
export interface PlainGroup {
  rows: number;
  t: number;
  bus: SmallColumn;
  id: number;
  flags: SmallColumn;
  length: SmallColumn;
  /** Payload bytes, end to end. */
  data: number;
  dataBytes: number;
  /** `sumOf` the columns that lie in the file, in the order above. */
  sum: string;
}

export interface PlainLayout {
  groups: PlainGroup[];
  bytes: number;
}

/** The places that are read for one group, in the order of its sum. */
export function placesOf(group: PlainGroup): { column: keyof PlainGroup; at: number; bytes: number }[] {
  const { rows, t, bus, id, flags, length, data, dataBytes } = group;
  const small = (column: 'bus' | 'flags' | 'length', place: SmallColumn) =>
    typeof place === 'number' ? [{ column, at: place, bytes: rows }] : [];
  return [
    { column: 't', at: t, bytes: 8 * rows },
    ...small('bus', bus),
    { column: 'id', at: id, bytes: 4 * rows },
    ...small('flags', flags),
    ...small('length', length),
    { column: 'data', at: data, bytes: dataBytes },
  ];
}

/**
 * A sum over bytes, so that a cache which the disk has damaged is noticed before its frames are used; not made to withstand an
 * adversary. It is GMAC (NIST SP 800-38D) under a key that everybody knows: 128 bits that every bit changes, and several
 * times as quick as any other sum that comes with Node (bench/store.ts shows what is left of opening a cache).
 */
export function sumOf(parts: readonly Uint8Array[]): string {
  const sum = createCipheriv('aes-128-gcm', KEY, NONCE);
  for (const part of parts) sum.setAAD(part);
  sum.final();
  return sum.getAuthTag().toString('hex');
}

const KEY = new Uint8Array(16);
const NONCE = new Uint8Array(12);
