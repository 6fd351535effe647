/** A quick sum over a file, so that a cache which the disk has damaged is noticed before anything is read from it. */
import { open } from 'node:fs/promises';

/** Size in bytes, and 64 bits in hex; not made to withstand an adversary. */
export async function fileSum(path: string): Promise<{ bytes: number; sum: string }> {
  const file = await open(path, 'r');
  try {
    const piece = new Uint8Array(PIECE);
    let bytes = 0;
    let a = 0x9e37_79b9 | 0;
    let b = 0x243f_6a88 | 0;
    for (;;) {
      const { bytesRead } = await fill(file, piece, bytes);
      if (bytesRead === 0) break;
      bytes += bytesRead;
      piece.fill(0, bytesRead, (bytesRead + 3) & ~3);
      const words = new Uint32Array(piece.buffer, 0, (bytesRead + 3) >> 2);
      for (let i = 0; i < words.length; i++) {
        // Each step is a bijection of the state, so no single change of a word can cancel itself out.
        a = Math.imul(a ^ (words[i] as number), 0x85eb_ca6b);
        b = Math.imul(b + (words[i] as number), 0xc2b2_ae35);
        a = (a << 13) | (a >>> 19);
        b ^= b >>> 15;
      }
    }
    return { bytes, sum: hex(a) + hex(b) };
  } finally {
    await file.close();
  }
}

const PIECE = 1 << 20;

/** Whole pieces, so that words stand at the same places in every run. */
async function fill(
  file: import('node:fs/promises').FileHandle,
  piece: Uint8Array,
  from: number,
): Promise<{ bytesRead: number }> {
  let got = 0;
  while (got < piece.length) {
    const { bytesRead } = await file.read(piece, got, piece.length - got, from + got);
    if (bytesRead === 0) break;
    got += bytesRead;
  }
  return { bytesRead: got };
}

function hex(word: number): string {
  return (word >>> 0).toString(16).padStart(8, '0');
}
