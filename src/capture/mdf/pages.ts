/**
 * The bytes of a file that came in pieces, held in pages, so that none is copied twice and any position can be read:
 * links in MDF are absolute positions, and what is linked may stand before or behind.
 */

const PAGE = 1 << 16;

export class Pages {
  readonly #pages: Uint8Array[] = [];
  #length = 0;

  /** Bytes so far. */
  get length(): number {
    return this.#length;
  }

  append(piece: Uint8Array): void {
    for (let from = 0; from < piece.length; ) {
      const at = this.#length % PAGE;
      if (at === 0) this.#pages.push(new Uint8Array(PAGE));
      const take = Math.min(PAGE - at, piece.length - from);
      (this.#pages.at(-1) as Uint8Array).set(piece.subarray(from, from + take), at);
      this.#length += take;
      from += take;
    }
  }

  /** The `count` bytes from `at` on: a view where they stand in one page, else a copy. The caller stays within `length`. */
  bytes(at: number, count: number): Uint8Array {
    const first = this.run(at, count);
    if (first.length === count) return first;
    const all = new Uint8Array(count);
    all.set(first);
    for (let done = first.length; done < count; ) {
      const next = this.run(at + done, count - done);
      all.set(next, done);
      done += next.length;
    }
    return all;
  }

  /** As many of the `most` bytes from `at` on as stand in one page, as a view. */
  run(at: number, most: number): Uint8Array {
    const from = at % PAGE;
    const page = this.#pages[Math.floor(at / PAGE)] as Uint8Array;
    return page.subarray(from, Math.min(PAGE, from + most));
  }
}
