/**
 * Blocks of MDF 4: "##" and two letters, 4 reserved bytes, length u64 with these 24 bytes in it, link count u64, links,
 * data. Little-endian throughout; a link is an absolute position in the file, 0 for none.
 */
import type { Pages } from './pages.ts';
import type { Trouble } from './trouble.ts';

export interface Block {
  /** Position in the file. */
  at: number;
  /** "DG", "CN", … */
  id: string;
  /** Bytes as the block claims them, header and links included. */
  length: number;
  /** Positions that the block links to; a link beyond 2^53 is Infinity and so outside any file. */
  links: readonly number[];
  /** Position of the data part. */
  data: number;
  /** End of what is there of the block: of its claim or of the file. */
  end: number;
}

/** Bytes before the links. */
export const BLOCK_HEADER = 24;
/** Where the header block stands, behind the identification. */
export const FIRST_BLOCK = 64;

/** Links and data bytes that a block must have to be read; more may follow in later versions. */
const LEAST: Record<string, { links: number; data: number }> = {
  HD: { links: 6, data: 16 },
  DG: { links: 4, data: 8 },
  CG: { links: 6, data: 32 },
  CN: { links: 8, data: 24 },
  CC: { links: 4, data: 24 },
  SI: { links: 3, data: 3 },
  DL: { links: 1, data: 8 },
  HL: { links: 1, data: 3 },
  DZ: { links: 0, data: 24 },
};

/** Names are short; what follows is not read. */
const LONGEST_TEXT = 4096;

export class Blocks {
  readonly #pages: Pages;
  readonly #trouble: Trouble;
  /** Blocks that may stand in one chain only. */
  readonly #claimed = new Set<number>();
  readonly #known = new Set<number>();

  constructor(pages: Pages, trouble: Trouble) {
    this.#pages = pages;
    this.#trouble = trouble;
  }

  /** The block at `at`, which must be one of `ids`; null where there is none or, with a word of trouble, no such block. */
  get(at: number, ids: readonly string[], from: string): Block | null {
    if (at === 0) return null;
    const size = this.#pages.length;
    const wanted = ids.join(' or ');
    if (!(at >= FIRST_BLOCK) || at + BLOCK_HEADER > size) {
      const where = Number.isFinite(at) ? `byte ${at}` : 'a position beyond 2^53';
      this.#trouble.say(`${from} links a ${wanted} block at ${where}, outside the ${size} bytes of the file`);
      return null;
    }
    const head = this.#pages.bytes(at, BLOCK_HEADER);
    const id = String.fromCharCode(...head.subarray(2, 4));
    if (head[0] !== 0x23 || head[1] !== 0x23 || !ids.includes(id)) {
      this.#trouble.say(`${from} links byte ${at}, where no ${wanted} block stands`);
      return null;
    }
    const length = u64(head, 8);
    const count = u64(head, 16);
    const least = LEAST[id] ?? { links: 0, data: 0 };
    const data = at + BLOCK_HEADER + 8 * count;
    const end = Math.min(at + length, size);
    if (count < least.links || data + least.data > at + Math.max(length, BLOCK_HEADER)) {
      this.#trouble.say(`The ${id} block at byte ${at} claims ${length} bytes and ${count} links, too few`);
      return null;
    }
    if (data + least.data > size) {
      this.#trouble.say(`The ${id} block at byte ${at} is cut short by the end of the file`);
      return null;
    }
    this.#known.add(at);
    const raw = this.#pages.bytes(at + BLOCK_HEADER, 8 * count);
    const links = Array.from({ length: count }, (_, k) => u64(raw, 8 * k));
    return { at, id, length, links, data, end };
  }

  /** The blocks of a chain from `first` on, by their first link; ends with a word of trouble where it comes back to itself. */
  *chain(first: number, id: string, from: string): Generator<Block, void, undefined> {
    for (let at = first, by = from; ; ) {
      const block = this.get(at, [id], by);
      if (block === null || !this.claim(block)) return;
      yield block;
      by = `The ${id} block at byte ${at}`;
      at = block.links[0] as number;
    }
  }

  /** Takes the block for one place in the file; false, with a word of trouble, where it has one already. */
  claim(block: Block): boolean {
    if (this.#claimed.has(block.at)) {
      this.#trouble.say(`The ${block.id} block at byte ${block.at} is linked twice`);
      return false;
    }
    this.#claimed.add(block.at);
    return true;
  }

  /** The position of the next block behind `at` that any link led to so far, or the end of the file. */
  nextKnown(at: number): number {
    let next = this.#pages.length;
    for (const other of this.#known) if (other > at && other < next) next = other;
    return next;
  }

  /** The data part, as far as the file has it and at most `most` bytes. */
  view(block: Block, most: number): DataView {
    const bytes = this.#pages.bytes(block.data, Math.min(most, Math.max(0, block.end - block.data)));
    return new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  }

  /** Text of the TX block at `at`, as it may be shown: no control characters. Empty where there is none. */
  text(at: number, from: string): string {
    const block = this.get(at, ['TX', 'MD'], from);
    if (block === null) return '';
    const view = this.view(block, LONGEST_TEXT);
    const bytes = new Uint8Array(view.buffer, view.byteOffset, view.byteLength);
    const end = bytes.indexOf(0);
    return new TextDecoder()
      .decode(end < 0 ? bytes : bytes.subarray(0, end))
      .replace(/[\p{Cc}\p{Cf}\u2028\u2029]/gu, '');
  }
}

/** A u64 as a number; Infinity where it is beyond 2^53. */
export function u64(bytes: Uint8Array, at: number): number {
  const view = new DataView(bytes.buffer, bytes.byteOffset + at, 8);
  const high = view.getUint32(4, true);
  return high < 0x20_0000 ? high * 0x1_0000_0000 + view.getUint32(0, true) : Number.POSITIVE_INFINITY;
}
