/**
 * ASAM MDF 4 with the channel names of CAN bus logging. Links in it are absolute positions that point ahead and back, so
 * the reader keeps the whole file in memory until its end and reads it then, in steps: the file's size on top of the capture.
 */

import { MAGICS } from '../mdf/identification.ts';
import { Pages } from '../mdf/pages.ts';
import { readMdf } from '../mdf/read.ts';
import { writeMdf } from '../mdf/write.ts';
import type { CaptureBuilder } from '../store.ts';
import { type CaptureFormat, type CaptureReader, PACKINGS } from './format.ts';

export const mdf4: CaptureFormat = {
  name: 'mdf4',
  words: 'ASAM MDF 4 bus logging, several buses',
  extensions: ['.mf4'],
  packings: PACKINGS,
  recognises: (head) =>
    MAGICS.includes(String.fromCharCode(...head.subarray(0, 8)) as (typeof MAGICS)[number]),
  open: (into) => new Mdf4Reader(into),
  write: writeMdf,
};

class Mdf4Reader implements CaptureReader {
  guess = '';
  notes: string[] = [];
  readonly #into: CaptureBuilder;
  readonly #pages = new Pages();

  constructor(into: CaptureBuilder) {
    this.#into = into;
  }

  push(piece: Uint8Array): void {
    this.#pages.append(piece);
  }

  end(): void {
    for (const _ of this.ending()) {
      // Each step leads to the next.
    }
  }

  *ending(): Generator<number, void, undefined> {
    const read = yield* readMdf(this.#pages, this.#into);
    this.guess = read.guess;
    this.notes.push(...read.notes);
  }
}
