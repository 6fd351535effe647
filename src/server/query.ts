/** Values of a query string, each checked; a wrong one is refused with its name and what would be right. */
import { MAX_BASE_ID, MAX_EXTENDED_ID } from '../can/frame.ts';
import { Refusal } from './refusal.ts';

export class Query {
  readonly #get: (name: string) => string | undefined;

  constructor(get: (name: string) => string | undefined) {
    this.#get = get;
  }

  integer(name: string, low: number, high: number, usual?: number): number {
    const text = this.#get(name);
    if (text === undefined && usual !== undefined) return usual;
    const value = Number(text);
    if (text === undefined || !/^-?\d{1,15}$/.test(text) || value < low || value > high)
      throw wrong(name, text, `a whole number from ${low} to ${high}`);
    return value;
  }

  number(name: string, usual: number): number {
    const text = this.#get(name);
    if (text === undefined) return usual;
    const value = Number(text);
    if (text.trim() === '' || !Number.isFinite(value)) throw wrong(name, text, 'a number');
    return value;
  }

  word<const W extends string>(name: string, words: readonly W[], usual?: W): W {
    const text = this.#get(name) ?? usual;
    const word = words.find((w) => w === text);
    if (word === undefined) throw wrong(name, text, `one of ${words.join(', ')}`);
    return word;
  }

  /** Identifier in hex with `ext` beside it. */
  message(): { id: number; extended: boolean } {
    return messageId(this.#get('id'), this.integer('ext', 0, 1));
  }

  text(name: string): string | undefined {
    return this.#get(name);
  }
}

export function messageId(text: unknown, ext: unknown): { id: number; extended: boolean } {
  const extended = ext === 1;
  const id = typeof text === 'string' && /^[0-9A-Fa-f]{1,8}$/.test(text) ? Number.parseInt(text, 16) : -1;
  if (id < 0 || id > (extended ? MAX_EXTENDED_ID : MAX_BASE_ID) || (ext !== 0 && ext !== 1))
    throw wrong('id', String(text), 'an identifier in hex, with ext 0 or 1');
  return { id, extended };
}

function wrong(name: string, text: string | undefined, right: string): Refusal {
  const found = text === undefined ? 'nothing' : `"${text.slice(0, 40)}"`;
  return new Refusal(400, `${name}: found ${found}; expected ${right}`);
}
