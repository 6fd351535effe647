/** The first lines of a text recording cut into tokens: where the header is, where the frames begin. */
import type { Column, TextLayout } from './columns.ts';

export interface Sample {
  separator: TextLayout['separator'];
  /** Tokens of each line that may hold a frame, without quotes and brackets. */
  rows: string[][];
  /** Index of the first such line among the lines given. */
  start: number;
  /** Words of the header line in lower case with single blanks, or null where there is none. */
  header: string[] | null;
  /** Columns that nearly all rows have. */
  width: number;
  /** Whether nearly all rows have the same number of columns. */
  constant: boolean;
}

/** Share of rows that must agree: a recording may hold a few broken lines. */
export const MOST = 0.85;

/**
 * A frame a line has at most 64 payload bytes and some columns about them. Columns beyond this are not looked at: the
 * search for the payload tries columns against each other.
 */
export const MOST_COLUMNS = 128;

/** Null where no line has more than one column with this separator. */
export function sampleOf(lines: readonly string[], separator: TextLayout['separator']): Sample | null {
  const all = lines.map((line) => tokensOf(line, separator));
  const start = firstFrame(all);
  if (start < 0) return null;
  const rows = all.slice(start).filter((row) => row.length > 1);
  const lengths = rows.map((row) => row.length).sort((a, b) => a - b);
  const width = lengths[lengths.length >> 4] as number;
  let header: string[] | null = null;
  for (const line of lines.slice(0, start)) {
    const words = headerWords(line, separator);
    if (words.length > 1 && words.some((word) => headerKind(word) !== null)) header = words;
  }
  return {
    separator,
    rows,
    start,
    header,
    width,
    constant: lengths.filter((n) => n === width).length >= MOST * lengths.length,
  };
}

export function column(sample: Sample, c: number): string[] {
  return sample.rows.map((row) => row[c] ?? '');
}

/** Share of rows whose token in column `c` is of a kind. */
export function share(sample: Sample, c: number, is: (token: string) => boolean): number {
  return sample.rows.filter((row) => is(row[c] ?? '')).length / sample.rows.length;
}

/** Index of the column that the header calls so, or -1. */
export function headed(sample: Sample, kind: Column['kind']): number {
  return sample.header?.findIndex((word) => headerKind(word) === kind) ?? -1;
}

/** What the header calls column `c`, or null. */
export function headedKind(sample: Sample, c: number): Column['kind'] | null {
  return headerKind(sample.header?.[c] ?? '');
}

const HEADER: [Column['kind'], RegExp][] = [
  [
    'time',
    /^((abs|rel|absolute|relative) )?(time|t|ts|timestamp|time ?stamp|seconds|sec|epoch)( offset)?( (s|sec|seconds|ms|us|µs|ns))?$/,
  ],
  ['bus', /^((can )?(bus|channel|chan|ch|interface|iface|network|port))( (id|no|number|name))?$/],
  ['id', /^((can|msg|message|frame|arbitration|arb) ?)?(id|identifier|ident)( (hex|dec))?$/],
  ['ext', /^((is )?(ext|extended)( (id|frame))?|ide|xtd)$/],
  ['length', /^((data|payload) )?(len|length|dlc|size|count)$/],
  ['data', /^((data|payload)( ?bytes)?|bytes)( (hex|dec))?$/],
  ['direction', /^(dir|direction|rx ?tx|rx\/tx)$/],
  ['flags', /^flags$/],
];
const BYTE_HEADER = /^(d|b|db|data|byte|data ?byte) ?\d{1,2}$/;

/** What a header word names; byte columns ("d0", "byte 3") count as bytes. */
export function headerKind(word: string): Column['kind'] | null {
  if (BYTE_HEADER.test(word)) return 'bytes';
  return HEADER.find(([, pattern]) => pattern.test(word))?.[0] ?? null;
}

/** Whether a token is a value rather than a word: a number in either base, a clock time, a joined frame. */
export function isValue(token: string): boolean {
  return /[0-9]/.test(token) && /^[-+]?(0x)?[0-9a-f.,:#T-]+Z?$/i.test(token);
}

/**
 * The first line that is made like the lines behind it: as many columns as the shortest of the later half, and values
 * and words in the same first places. -1 where no line has values in several columns.
 */
function firstFrame(all: readonly string[][]): number {
  const later = all.slice(all.length >> 1).filter((row) => row.length > 1);
  if (later.length === 0) return -1;
  const least = later.map((row) => row.length).sort((a, b) => a - b)[later.length >> 4] as number;
  const usual = [0, 1, 2].map((c) => later.filter((row) => isValue(row[c] ?? '')).length * 2 > later.length);
  return all.findIndex(
    (row) =>
      row.length >= Math.max(2, least) &&
      row.some(isValue) &&
      usual.every((value, c) => c >= least || isValue(row[c] ?? '') === value || row[c] === ''),
  );
}

function tokensOf(line: string, separator: string): string[] {
  const parts =
    separator === ' ' ? line.trim().split(/\s+/, MOST_COLUMNS) : line.split(separator, MOST_COLUMNS);
  return parts.map((part) => part.trim().replace(/^["'([\]]+|["')\]]+$/g, ''));
}

function headerWords(line: string, separator: string): string[] {
  const plain = line.replace(/^[#\s]+/, '');
  const parts = separator === ' ' ? plain.trim().split(/\s+/) : plain.split(separator);
  return parts.map(plainWord);
}

/** "Time [ms]" and "time_ms" alike become "time ms". */
function plainWord(word: string): string {
  return word
    .toLowerCase()
    .replace(/["'()[\].:_\s-]+/g, ' ')
    .trim();
}
