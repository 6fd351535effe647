/** Values of a query string, each checked; a wrong one is refused with its name and what would be right. */
import { MAX_BASE_ID, MAX_EXTENDED_ID } from '../can/frame.ts';
import type { FieldQuestion } from '../capture/overview/index.ts';
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

  /** A field of a message: `bus`, `id`, `ext`, `start`, `length`, `byteOrder`, `signed`, and `selector` where it stands behind one. */
  field(): FieldQuestion {
    const { id, extended } = this.message();
    const signed = this.word('signed', ['false', 'true', 'magnitude'], 'false');
    const field = {
      byteOrder: this.word('byteOrder', ['little', 'big']),
      signed: signed === 'magnitude' ? signed : signed === 'true',
      start: this.integer('start', 0, 511),
      length: this.integer('length', 1, 64),
    } as const;
    return {
      bus: this.integer('bus', 0, 255),
      id,
      extended,
      field,
      selector: selectorOf(this.#get('selector')),
    };
  }

  text(name: string): string | undefined {
    return this.#get(name);
  }
}

/** "start:length:byteOrder:value" */
function selectorOf(text: string | undefined): FieldQuestion['selector'] {
  if (text === undefined) return null;
  const parts = /^(\d{1,3}):(\d{1,2}):(little|big):(\d{1,10})$/.exec(text);
  const [start, length, value] = [1, 2, 4].map((i) => Number(parts?.[i]));
  if (parts === null || start! > 511 || length! < 1 || length! > 16)
    throw new Refusal(400, 'selector: expected start:length:byteOrder:value, for example 0:8:little:2');
  return {
    field: { start: start!, length: length!, byteOrder: parts[3] as 'little' | 'big' },
    value: value!,
  };
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
