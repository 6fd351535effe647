/**
 * Names of the build as names in C. A message may be called "Lenkwinkel (vorn)" or "int"; in C both must become words
 * of lower-case letters, digits and underscores that no keyword and no other name has. The same names in the same order
 * always give the same words, and every word that differs from its name is kept for the table in the firmware's README.
 */
import { isReserved } from '../logic/words.ts';

/** One name of the build and the word that stands for it in C. */
export interface NameEntry {
  /** What carries the name: "message", "signal", "pin". */
  kind: string;
  original: string;
  name: string;
}

/** The names of one gateway: every word given is kept with the name that it stands for. */
export class GatewayNames {
  readonly entries: NameEntry[] = [];
  readonly #programs: NameScope;
  readonly #messages = new NameScope();
  readonly #pins = new NameScope();

  /** `taken`: programs that come with a name. */
  constructor(taken: Iterable<string>) {
    this.#programs = new NameScope(taken);
  }

  program(original: string): string {
    return this.#programs.give(original);
  }

  message(bus: string, message: string): string {
    return this.#note('message', `${bus}: ${message}`, this.#messages.give(`${bus} ${message}`));
  }

  pin(original: string): string {
    return this.#note('pin', original, this.#pins.give(original));
  }

  /** A scope for the signals of one program, without the words that the program has already. */
  signals(reserved: Iterable<string>): NameScope {
    return new NameScope(reserved);
  }

  /** A word for a signal within `scope`; `suffix` says in which form it is. */
  signal(scope: NameScope, place: string, original: string, suffix = ''): string {
    const plain = OWN_PREFIX.test(identifier(original)) ? `signal ${original}` : original;
    return this.#note('signal', `${place}: ${original}`, scope.give(suffix ? `${plain} ${suffix}` : plain));
  }

  #note(kind: string, original: string, name: string): string {
    this.entries.push({ kind, original, name });
    return name;
  }
}

/** Beginnings of words that programs of the bridge give to their own values. */
const OWN_PREFIX = /^(age|byte|check|counter|held|known|lost|now|raw)_/;

/** Hands out words that are unique within one scope. */
export class NameScope {
  readonly #taken: Set<string>;

  /** `reserved`: words that the generated code itself uses in this scope. */
  constructor(reserved: Iterable<string> = []) {
    this.#taken = new Set(reserved);
  }

  /** A free word for `original`, which may be any text. */
  give(original: string): string {
    const wanted = identifier(original);
    let name = wanted;
    const stem = wanted.slice(0, MAX_LENGTH - 4).replace(/_$/, '');
    for (let n = 2; this.#taken.has(name); n++) name = `${stem}_${n}`;
    this.#taken.add(name);
    return name;
  }
}

/** Longest word handed out; C99 guarantees 31 significant characters for external names and 63 for internal ones. */
const MAX_LENGTH = 40;

/**
 * Text as a C word: letters without their accents, every other run of characters as one underscore, a letter first.
 * Letters that have no Latin base letter become their code point in hex, so that two of them stay apart.
 */
export function identifier(text: string): string {
  let out = '';
  for (const c of text.replace(/([a-z])([A-Z])/g, '$1_$2')) out += plain(c);
  let word = out.replace(/_+/g, '_').replace(/^_|_$/g, '').slice(0, MAX_LENGTH).replace(/_$/, '');
  if (word === '') word = 'unnamed';
  if (/^[0-9]/.test(word)) word = `n${word}`;
  return C_WORDS.has(word) || isReserved(word) ? `${word}_` : word;
}

function plain(c: string): string {
  const special = SPECIAL[c.toLowerCase()];
  if (special !== undefined) return special;
  const base = c
    .normalize('NFKD')
    .replace(/[\u0300-\u036f]/g, '')
    .toLowerCase();
  if (/^[a-z0-9]+$/.test(base)) return base;
  if (/\p{L}/u.test(c)) return `_u${c.codePointAt(0)?.toString(16)}_`;
  return '_';
}

const SPECIAL: Record<string, string> = {
  ß: 'ss',
  æ: 'ae',
  œ: 'oe',
  ø: 'o',
  ł: 'l',
  đ: 'd',
  þ: 'th',
  ð: 'd',
  µ: 'u',
  μ: 'u',
  '°': '_deg_',
  '%': '_percent_',
};

/**
 * Words that may not be names: keywords of C (ISO/IEC 9899:1999 and later drafts) and C++, and lower-case macros and
 * types of the headers that the project includes.
 */
const C_WORDS = new Set(
  (
    'alignas alignof and and_eq asm assert atomic auto bitand bitor bool break case catch char char8_t char16_t ' +
    'char32_t class compl concept const const_cast consteval constexpr constinit continue co_await co_return ' +
    'co_yield decltype default delete do double dynamic_cast else enum errno explicit export extern false far float ' +
    'for friend goto huge if inline int int8_t int16_t int32_t int64_t interrupt intptr_t linux long main mutable ' +
    'namespace near new noexcept not not_eq nullptr operator or or_eq private protected public register ' +
    'reinterpret_cast requires restrict return short signed sizeof size_t static static_assert static_cast stderr ' +
    'stdin stdout struct switch template this thread_local throw true try typedef typeid typename typeof ' +
    'typeof_unqual uint8_t uint16_t uint32_t uint64_t uintptr_t union unix unsigned using virtual void volatile ' +
    'wchar_t while xor xor_eq'
  ).split(' '),
);
