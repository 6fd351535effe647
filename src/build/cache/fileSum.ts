/** A quick sum over a file's bytes, so that a cache which the disk has damaged is noticed before its frames are used. */

/** 64 bits; not made to withstand an adversary. The same pieces in the same order give the same sum. */
export class FileSum {
  readonly #lanes = Int32Array.of(0x9e37_79b9, 0x243f_6a88, 0x8525_08e5, 0x3707_344a);
  #tail = new Uint32Array(4);

  add(bytes: Uint8Array): void {
    const aligned = (bytes.byteOffset & 3) === 0 ? bytes : bytes.slice();
    const words = new Uint32Array(aligned.buffer, aligned.byteOffset, (bytes.length >> 4) << 2);
    this.#addWords(words);
    const rest = bytes.length & 15;
    if (rest === 0) return;
    const tail = new Uint8Array(this.#tail.buffer);
    tail.fill(0);
    tail.set(aligned.subarray(bytes.length - rest));
    this.#addWords(this.#tail);
  }

  hex(): string {
    const [a, b, c, d] = this.#lanes as unknown as [number, number, number, number];
    return word(a ^ Math.imul(c, 0x85eb_ca6b)) + word(b ^ Math.imul(d, 0xc2b2_ae35));
  }

  /** Each step is a bijection of its lane, so no single changed word can go unnoticed. */
  #addWords(words: Uint32Array): void {
    let [a, b, c, d] = this.#lanes as unknown as [number, number, number, number];
    for (let i = 0; i < words.length; i += 4) {
      a = Math.imul(a ^ (words[i] as number), 0x85eb_ca6b);
      b = Math.imul(b ^ (words[i + 1] as number), 0xc2b2_ae35);
      c = Math.imul(c ^ (words[i + 2] as number), 0x27d4_eb2f);
      d = Math.imul(d ^ (words[i + 3] as number), 0x1656_67b1);
      a = (a << 13) | (a >>> 19);
      b = (b << 15) | (b >>> 17);
      c = (c << 11) | (c >>> 21);
      d = (d << 17) | (d >>> 15);
    }
    this.#lanes.set([a, b, c, d]);
  }
}

function word(value: number): string {
  return (value >>> 0).toString(16).padStart(8, '0');
}
