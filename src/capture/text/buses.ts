/** Numbers for the buses of a text recording, by number or by name. */
import type { BusNumbers } from './lines.ts';

/**
 * A plain number stands for itself. A name gets the number it ends in where that is free, else the lowest free one;
 * names are put into `names`. The last one seen is remembered, since most recordings hold few buses.
 */
export class BusTable implements BusNumbers {
  readonly #names: Map<number, string>;
  readonly #taken = new Set<number>();
  readonly #known = new Map<string, number>();
  #last: Uint8Array = new Uint8Array(0);
  #lastNumber = -1;

  constructor(names: Map<number, string>) {
    this.#names = names;
  }

  /** 0–255, or -1 where there are more than 256 names. */
  number(bytes: Uint8Array, from: number, to: number): number {
    if (to - from === 1) {
      const digit = (bytes[from] as number) - 48;
      if (digit >= 0 && digit <= 9) {
        this.#taken.add(digit);
        return digit;
      }
    }
    const last = this.#last;
    let same = to - from === last.length && this.#lastNumber >= 0;
    for (let k = 0; same && k < last.length; k++) same = last[k] === bytes[from + k];
    if (same) return this.#lastNumber;
    let name = '';
    for (let k = from; k < Math.min(to, from + 64); k++) name += String.fromCharCode(bytes[k] as number);
    const number = this.#known.get(name) ?? this.#assign(name);
    this.#last = bytes.slice(from, to);
    this.#lastNumber = number;
    return number;
  }

  #assign(name: string): number {
    const plain = /^\d{1,3}$/.test(name) && Number(name) < 256;
    const wanted = Number(/(\d{1,3})$/.exec(name)?.[1] ?? -1);
    let number = wanted;
    if (!plain && (wanted < 0 || wanted > 255 || this.#taken.has(wanted))) {
      number = 0;
      while (number < 256 && this.#taken.has(number)) number++;
      if (number > 255) return -1;
    }
    this.#taken.add(number);
    this.#known.set(name, number);
    if (!plain && name !== `can${number}`) this.#names.set(number, name);
    return number;
  }
}
