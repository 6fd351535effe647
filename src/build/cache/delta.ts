/** Small numbers as differences in blocks: DELTA_BINARY_PACKED of the Parquet format (Apache Parquet, Encodings.md). */
import { varint } from './thrift.ts';

/** Values of a block, and how many parts it has whose bits are packed alike. */
const BLOCK = 128;
const PARTS = 4;
const PART = BLOCK / PARTS;

/** Numbers 0 … 127, as Parquet readers take them; parts whose differences are all alike take no bits, others a byte a difference. */
export function deltaBytes(values: Uint8Array): Uint8Array {
  const head: number[] = [];
  varint(head, BLOCK);
  varint(head, PARTS);
  varint(head, values.length);
  varint(head, 2 * (values[0] ?? 0));
  const differences = Math.max(0, values.length - 1);
  // At most: the smallest difference in two bytes, the widths, a byte a difference.
  const out = new Uint8Array(head.length + Math.ceil(differences / BLOCK) * (2 + PARTS + BLOCK));
  out.set(head);
  let at = head.length;
  const difference = (i: number) => (values[i + 1] as number) - (values[i] as number);
  for (let from = 0; from < differences; from += BLOCK) {
    const to = Math.min(from + BLOCK, differences);
    let least = difference(from);
    for (let i = from + 1; i < to; i++) least = Math.min(least, difference(i));
    const zigzag: number[] = [];
    varint(zigzag, least < 0 ? -2 * least - 1 : 2 * least);
    out.set(zigzag, at);
    at += zigzag.length;
    const widths = at;
    at += PARTS;
    for (let p = 0; p < PARTS; p++) {
      const first = from + p * PART;
      const end = Math.min(first + PART, to);
      let most = least;
      for (let i = first; i < end; i++) most = Math.max(most, difference(i));
      if (most === least) continue;
      out[widths + p] = 8;
      for (let i = first; i < end; i++) out[at + i - first] = difference(i) - least;
      at += PART;
    }
  }
  return out.subarray(0, at);
}
