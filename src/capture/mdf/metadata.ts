/** Blocks that describe the data, put one behind the other with their links: for the writer. */
import { BLOCK_HEADER, FIRST_BLOCK } from './blocks.ts';

/** A block before it has a place; links are to other blocks, to a position, or none. */
export interface Draft {
  id: string;
  links: (Draft | number | null)[];
  data: Uint8Array;
}

/** All blocks that `first` leads to, in the order in which they stand in the file. */
export function drafts(first: Draft): Draft[] {
  const all = new Set<Draft>();
  const waiting: Draft[] = [first];
  for (let next = waiting.pop(); next; next = waiting.pop()) {
    if (all.has(next)) continue;
    all.add(next);
    for (const link of [...next.links].reverse())
      if (link !== null && typeof link !== 'number') waiting.push(link);
  }
  return [...all];
}

/** Bytes that these blocks take together. */
export function sizeOf(all: readonly Draft[]): number {
  return all.reduce((sum, draft) => sum + padded(blockSize(draft)), 0);
}

/** The blocks as they stand in the file from `FIRST_BLOCK` on. */
export function laidOut(all: readonly Draft[]): Uint8Array {
  const places = new Map<Draft, number>();
  let end = FIRST_BLOCK;
  for (const draft of all) {
    places.set(draft, end);
    end += padded(blockSize(draft));
  }
  const out = new Uint8Array(end - FIRST_BLOCK);
  for (const draft of all) {
    const at = (places.get(draft) as number) - FIRST_BLOCK;
    const links = draft.links.map((link) =>
      link === null || typeof link === 'number' ? (link ?? 0) : (places.get(link) as number),
    );
    out.set(blockHeader(draft.id, blockSize(draft), links), at);
    out.set(draft.data, at + BLOCK_HEADER + 8 * links.length);
  }
  return out;
}

/** Header and links of a block of `length` bytes. */
export function blockHeader(id: string, length: number, links: readonly number[]): Uint8Array {
  const out = new Uint8Array(BLOCK_HEADER + 8 * links.length);
  const view = new DataView(out.buffer);
  out.set([0x23, 0x23, id.charCodeAt(0), id.charCodeAt(1)]);
  setU64(view, 8, length);
  setU64(view, 16, links.length);
  for (const [k, link] of links.entries()) setU64(view, BLOCK_HEADER + 8 * k, link);
  return out;
}

/** Blocks start at multiples of 8. */
export function padded(length: number): number {
  return Math.ceil(length / 8) * 8;
}

export function setU64(view: DataView, at: number, value: number): void {
  view.setBigUint64(at, BigInt(value), true);
}

/** A TX or MD block: UTF-8 with a zero behind it. */
export function textDraft(text: string, id: 'TX' | 'MD' = 'TX'): Draft {
  const bytes = new TextEncoder().encode(`${text.replaceAll('\0', '')}\0`);
  const data = new Uint8Array(padded(bytes.length));
  data.set(bytes);
  return { id, links: [], data };
}

/** A data part: numbers with their sizes in bytes, little-endian; "f" is a double. */
export function fields(
  ...parts: readonly (readonly [size: 1 | 2 | 4 | 8 | 'f', value: number | bigint])[]
): Uint8Array {
  const out = new Uint8Array(parts.reduce((sum, [size]) => sum + (size === 'f' ? 8 : size), 0));
  const view = new DataView(out.buffer);
  let at = 0;
  for (const [size, value] of parts) {
    if (size === 'f') view.setFloat64(at, Number(value), true);
    else if (size === 8) view.setBigUint64(at, BigInt(value), true);
    else if (size === 4) view.setUint32(at, Number(value), true);
    else if (size === 2) view.setUint16(at, Number(value), true);
    else view.setUint8(at, Number(value));
    at += size === 'f' ? 8 : size;
  }
  return out;
}

function blockSize(draft: Draft): number {
  return BLOCK_HEADER + 8 * draft.links.length + draft.data.length;
}
