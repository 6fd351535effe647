/** Finds where the payload of a text recording stands: in one column, or byte by byte, with a length or without. */
import type { Column } from './columns.ts';
import type { Choice } from './inferTime.ts';
import { column, headed, headerKind, MOST, type Sample, share } from './sample.ts';

export interface PayloadPlace {
  at: number;
  column: Column;
  /** Index of the column that says how many bytes there are, or -1. */
  lengthAt: number;
  /** Columns behind separate bytes whose number varies. */
  behind: number;
}

/** Null where no column holds a payload. */
export function findPayload(
  sample: Sample,
  idAt: number,
  free: (c: number) => boolean,
): Choice<PayloadPlace> | null {
  const bytesAt = headed(sample, 'bytes');
  const dataAt = headed(sample, 'data');
  const open = (c: number) => c !== idAt && free(c);
  if (bytesAt < 0) {
    const found = oneColumn(sample, dataAt, open);
    if (found) return found;
  }
  const starts =
    bytesAt >= 0 ? [bytesAt] : dataAt >= 0 ? [dataAt] : Array.from({ length: sample.width }, (_, c) => c);
  let withoutLength: Choice<PayloadPlace> | null = null;
  for (const at of starts) {
    if (at < sample.width && !open(at)) continue;
    for (let behind = 0; behind <= 3; behind++) {
      const counted = countedBytes(sample, at, behind, open);
      if (counted) return counted;
    }
    if (at > idAt) withoutLength ??= uncountedBytes(sample, at);
  }
  return withoutLength;
}

const RUN = /^(0x)?([0-9a-f]{2})*$/i;
const SPACED_HEX = /^((0x)?[0-9a-f]{1,2}([ :._-]+(0x)?[0-9a-f]{1,2})*)?$/i;
const SPACED_DECIMAL = /^(\d{1,3}([ :._-]+\d{1,3})*)?$/;

/** The whole payload in one column: the one so named, else the longest run of hex digits, or of spaced bytes. */
function oneColumn(sample: Sample, named: number, open: (c: number) => boolean): Choice<PayloadPlace> | null {
  let best: Choice<PayloadPlace> | null = null;
  let longest = 2;
  for (let c = 0; c < sample.width; c++) {
    if (!open(c) || (named >= 0 && c !== named)) continue;
    const tokens = column(sample, c);
    const payloads = tokens.filter((t) => RUN.test(t) || SPACED_HEX.test(t) || SPACED_DECIMAL.test(t));
    const mean = payloads.reduce((sum, t) => sum + t.length, 0) / payloads.length;
    const spaced = tokens.some((t) => /[0-9a-f][ :._-]+[0-9a-f]/i.test(t));
    // A header that names other columns and not this one speaks against a short run.
    const needed = c === named ? -1 : sample.header && named < 0 ? Math.max(longest, 3.99) : longest;
    if (!(mean > needed)) continue;
    if (share(sample, c, (t) => RUN.test(t)) >= MOST) {
      // One column of two-digit tokens among several is one byte of a payload, not all of it.
      if (c === named && !sample.constant && Math.max(...tokens.map((t) => t.length)) <= 2) continue;
      best = { value: place(c, 16), odds: 1 };
      longest = mean;
    } else if (spaced && c !== 0) {
      const hex = share(sample, c, (t) => SPACED_HEX.test(t)) >= MOST;
      const decimal = share(sample, c, (t) => SPACED_DECIMAL.test(t)) >= MOST;
      if (!hex && !decimal) continue;
      const base = baseOfBytes(tokens.map((t) => t.split(/[ :._-]+/)));
      best = { value: place(c, base.value), odds: base.odds };
      longest = mean;
    }
  }
  return best;
}

function place(at: number, base: 10 | 16): PayloadPlace {
  return { at, column: { kind: 'data', base }, lengthAt: -1, behind: 0 };
}

/** Separate bytes from `at` on, `behind` columns after them, and a column before them that counts them. */
function countedBytes(
  sample: Sample,
  at: number,
  behind: number,
  open: (c: number) => boolean,
): Choice<PayloadPlace> | null {
  const { rows, constant } = sample;
  const runs = rows.map((row) => row.slice(at, row.length - behind));
  const named = headed(sample, 'length');
  for (let c = at - 1; c >= 0; c--) {
    if (!open(c) || (named >= 0 && c !== named)) continue;
    const counts = rows.map((row) => (/^\d{1,2}$/.test(row[c] ?? '') ? Number(row[c]) : -1));
    // Among rows of one width, a counter of bytes leaves the fields behind its bytes empty, or there are none.
    const fits = (run: readonly string[], i: number) => {
      const count = counts[i] as number;
      const filled = constant ? count <= run.length : count === run.length;
      return count >= 0 && filled && run.every((t, k) => (k < count ? isByte(t) : t === ''));
    };
    if (!mostFit(runs, fits) || !counts.some((count) => count > 0)) continue;
    const base = baseOfBytes(runs.map((run, i) => run.slice(0, Math.max(0, counts[i] as number))));
    const fields = constant ? Math.max(...runs.map((run) => run.length)) : 0;
    const value: PayloadPlace = {
      at,
      column: { kind: 'bytes', base: base.value, fields },
      lengthAt: c,
      behind,
    };
    return { value, odds: base.odds };
  }
  return null;
}

/** Whether nearly all fit; looks no further once too many do not. */
function mostFit<T>(all: readonly T[], fits: (one: T, i: number) => boolean): boolean {
  let left = all.length - MOST * all.length;
  return all.every((one, i) => fits(one, i) || --left >= 0);
}

/** Separate bytes from `at` to the end of the row, or as many as the header names. */
function uncountedBytes(sample: Sample, at: number): Choice<PayloadPlace> | null {
  const named = sample.header?.filter((word) => headerKind(word) === 'bytes').length ?? 0;
  const runs = sample.rows.map((row) => row.slice(at, named > 0 ? at + named : undefined));
  const longest = Math.max(...runs.map((run) => run.length));
  const whole = runs.filter((run) => run.every((t) => isByte(t) || t === '')).length;
  if (whole < MOST * runs.length || longest === 0 || longest > 64 || (longest > 8 && longest % 4 !== 0))
    return null;
  const base = baseOfBytes(runs);
  const value: PayloadPlace = {
    at,
    column: { kind: 'bytes', base: base.value, fields: named },
    lengthAt: -1,
    behind: 0,
  };
  return { value, odds: 0.95 * base.odds };
}

function isByte(token: string): boolean {
  return /^(0x)?[0-9a-f]{1,2}$/i.test(token) || (/^\d{3}$/.test(token) && Number(token) < 256);
}

/** Hex where a letter or 0x shows, decimal where three digits do; else by how digits are padded. */
function baseOfBytes(runs: readonly string[][]): Choice<10 | 16> {
  const tokens = new Set(runs.flat().filter(isByte));
  const some = (pattern: RegExp) => [...tokens].some((t) => pattern.test(t));
  if (some(/[a-fx]/i)) return { value: 16, odds: 1 };
  if (some(/^\d{3}$/)) return { value: 10, odds: 1 };
  if (some(/^\d$/) && some(/^\d\d$/)) return { value: 10, odds: 0.9 };
  // A random hex byte shows no letter with probability (10/16)^2.
  const chance = (100 / 256) ** Math.min(50, tokens.size);
  return { value: 16, odds: 0.5 + 0.5 * chance };
}
