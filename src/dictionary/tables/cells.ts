/** What stands in one cell, as a value; `null` means that it cannot be read as that. */
import type { Meaning } from './model.ts';

/** A number with a point, or a comma where the table writes commas. */
export function numberIn(text: string, decimal: '.' | '?'): number | null {
  const word = text.trim().replace(/^\u2212/, '-');
  const plain = decimal === '?' && /^[-+]?\d+,\d+$/.test(word) ? word.replace(',', '.') : word;
  if (!/^[-+]?(\d+\.?\d*|\.\d+)(e[-+]?\d+)?$/i.test(plain)) return null;
  const value = Number(plain);
  return Number.isFinite(value) ? value : null;
}

/** A whole number: decimal, 0x…, or …h. A spreadsheet may have written 8 as 8.0. */
export function wholeIn(text: string): number | null {
  const word = text.trim();
  if (/^0x[0-9a-f]{1,12}$/i.test(word)) return Number(word);
  if (/^[0-9a-f]{1,12}h$/i.test(word)) return Number.parseInt(word, 16);
  if (!/^[-+]?\d+(\.0+)?$/.test(word)) return null;
  const value = Number(word);
  return Number.isSafeInteger(value) ? value : null;
}

/** An identifier under the reading of its column; 0x and h always mean hexadecimal. */
export function idIn(text: string, base: 'hex' | 'decimal'): number | null {
  const word = text.trim();
  const marked = /^(?:0x([0-9a-f]{1,8})|([0-9a-f]{1,8})h)$/i.exec(word);
  if (marked !== null) return Number.parseInt((marked[1] ?? marked[2]) as string, 16);
  if (base === 'hex') return /^[0-9a-f]{1,8}$/i.test(word) ? Number.parseInt(word, 16) : null;
  return wholeIn(word);
}

const LITTLE = /^(little|little[ _-]?endian|le|l|intel|lsb ?first|lsb|most-significant-byte-last|0)$/i;
const BIG = /^(big|big[ _-]?endian|be|b|motorola|msb ?first|msb|most-significant-byte-first|1)$/i;

/** Byte order in the words that data sheets use. */
export function orderIn(text: string): 'little' | 'big' | null {
  const word = text.trim();
  return LITTLE.test(word) ? 'little' : BIG.test(word) ? 'big' : null;
}

const UNSIGNED = /^(no|n|false|unsigned|u|uint\d*|unsigned int\w*|\+|-?0|boolean|bool|flag|enum)$/i;
const SIGNED =
  /^(yes|y|true|signed|s|int\d*|sint\d*|signed int\w*|two'?s complement|2'?s complement|1|x|±|\+\/-)$/i;
const MAGNITUDE = /^(magnitude|sign[ -]?(and[ -]?)?magnitude)$/i;

export function signedIn(text: string): boolean | 'magnitude' | null {
  const word = text.trim();
  if (MAGNITUDE.test(word)) return 'magnitude';
  return SIGNED.test(word) ? true : UNSIGNED.test(word) ? false : null;
}

export function yesIn(text: string): boolean | null {
  if (/^(yes|y|true|1|x|extended|ext|29)$/i.test(text.trim())) return true;
  return /^(no|n|false|0|standard|std|base|11)$/i.test(text.trim()) ? false : null;
}

/** "0=off; 1=ready", lines of "0: off", or a JSON object. */
export function valuesIn(text: string): Record<string, string> | null {
  const word = text.trim();
  if (word.startsWith('{')) {
    const data = json(word);
    const good =
      data !== null &&
      typeof data === 'object' &&
      !Array.isArray(data) &&
      Object.entries(data).every(([raw, name]) => /^-?\d+$/.test(raw) && typeof name === 'string');
    return good ? (data as Record<string, string>) : null;
  }
  const values: [string, string][] = [];
  for (const part of word
    .split(/[;|\n]/)
    .flatMap((p) =>
      /,\s*(-?\d+|0x[0-9a-f]+)\s*[=:]/i.test(p) ? p.split(/,(?=\s*(?:-?\d+|0x[0-9a-f]+)\s*[=:])/i) : [p],
    )) {
    if (part.trim() === '') continue;
    const read = /^\s*(-?\d+|0x[0-9a-f]+)\s*[=:]\s*(.*?)\s*$/is.exec(part);
    const raw = read === null ? null : wholeIn(read[1] as string);
    if (read === null || raw === null) return null;
    values.push([String(raw), read[2] as string]);
  }
  // The same raw value twice would lose one of the names.
  return values.length === 0 || new Set(values.map(([raw]) => raw)).size < values.length
    ? null
    : Object.fromEntries(values);
}

/** Whole numbers apart by spaces, commas or semicolons; "0..6" is a run. */
export function listIn(text: string, base: 'hex' | 'decimal' = 'decimal'): number[] | null {
  const numbers: number[] = [];
  for (const part of text.trim().split(/[\s,;]+/)) {
    const run = /^(\d{1,3})\.\.(\d{1,3})$/.exec(part);
    if (run !== null) {
      const [from, to] = [Number(run[1]), Number(run[2])];
      if (from > to) return null;
      for (let n = from; n <= to; n++) numbers.push(n);
      continue;
    }
    const value = base === 'hex' ? idIn(part, 'hex') : wholeIn(part);
    if (value === null || numbers.length >= 65_536) return null;
    numbers.push(value);
  }
  return numbers;
}

/** Text of a cell; one between quotes was written with them because it starts or ends oddly. */
export function textIn(cell: string): string | undefined {
  const word = cell.trim();
  if (word === '') return undefined;
  if (word.length > 1 && word.startsWith('"') && word.endsWith('"')) {
    const data = json(word);
    if (typeof data === 'string') return data;
  }
  return word;
}

/**
 * The reverse of `textIn`. Quoted where a reader would change it, and where a spreadsheet would take it for a formula
 * (text from recordings and parts of others goes through here).
 */
export function textCell(text: string | undefined): string {
  if (text === undefined) return '';
  const plain =
    text !== '' &&
    text === text.trim() &&
    !/^["'=+\-@]/.test(text) &&
    // Controls, what XML cannot hold, and halves of characters.
    !/[\p{Cc}\p{Cs}\ufffe\uffff\ufeff]/u.test(text);
  return plain
    ? text
    : JSON.stringify(text).replace(
        /[\p{Cc}\ufffe\uffff\ufeff]/gu,
        (c) => `\\u${c.charCodeAt(0).toString(16).padStart(4, '0')}`,
      );
}

export function json(text: string): unknown {
  try {
    return JSON.parse(text) as unknown;
  } catch {
    return null;
  }
}

/** Whether a text could stand in a column of that meaning. */
export const CELL_TESTS: Partial<Record<Meaning, (text: string) => boolean>> = {
  id: (t) => idIn(t, 'hex') !== null,
  extended: (t) => yesIn(t) !== null,
  messageLength: (t) => inRange(wholeIn(t), 0, 64),
  period: (t) => numberIn(t.replace(/\s*(ms|s)$/i, ''), '?') !== null || notPeriodic(t),
  kind: (t) => /^(signal|counter|check|selector|message)$/i.test(t),
  start: (t) => wholeIn(t) !== null || /^\d+[.:]\d$/.test(t),
  startByte: (t) => inRange(wholeIn(t), 0, 64),
  length: (t) => inRange(wholeIn(t), 1, 64),
  order: (t) => orderIn(t) !== null,
  signed: (t) => signedIn(t) !== null,
  scale: (t) => numberIn(t, '?') !== null,
  offset: (t) => numberIn(t, '?') !== null,
  min: (t) => numberIn(t, '?') !== null,
  max: (t) => numberIn(t, '?') !== null,
  values: (t) => valuesIn(t) !== null,
  selectorValue: (t) => wholeIn(t) !== null,
  unit: (t) => t.length <= 20,
};

export function notPeriodic(text: string): boolean {
  return /^(-|–|none|event|n\/?a|on change|spontaneous|0)$/i.test(text.trim());
}

function inRange(value: number | null, from: number, to: number): boolean {
  return value !== null && value >= from && value <= to;
}
