/** Finds the time column of a text recording and its unit. */
import type { Column, TimeUnit } from './columns.ts';
import { column, headed, headedKind, MOST, type Sample } from './sample.ts';

/** A choice and how sure it is: its odds against the alternatives, 0–1. */
export interface Choice<T> {
  value: T;
  odds: number;
}

/** The columns that hold time, by their index: one number, one clock or date, or a day and a clock; null where none does. */
export function findTime(sample: Sample): Choice<[number, Column][]> | null {
  const named = headed(sample, 'time');
  if (named >= 0 && named < sample.width) {
    const found = timeAt(sample, named, 'named');
    if (found) return found;
  }
  let best: { found: Choice<[number, Column][]>; score: number } | null = null;
  for (let c = 0; c < sample.width; c++) {
    const found = headedKind(sample, c) === null ? timeAt(sample, c, 'guessed') : null;
    if (!found) continue;
    const [, first] = found.value[0] as [number, Column];
    const score =
      first.kind === 'time' && first.form === 'number' ? riseOf(column(sample, c)) - 0.01 * c : 10;
    if (score > 0 && (best === null || score > best.score)) best = { found, score };
  }
  return best?.found ?? null;
}

/** Time behind separate payload bytes: the column `c` places from the end of each row, of `behind`. */
export function findTimeBehind(sample: Sample, behind: number): Choice<[number, Column][]> | null {
  const rows = sample.rows.map((row) => row.slice(row.length - behind));
  return findTime({ ...sample, rows, header: null, width: behind, constant: true });
}

const DATE = /^\d{4}[-/.]\d\d[-/.]\d\d[T ]\d\d:\d\d:\d\d([.,]\d+)?Z?$/i;
const DAY = /^\d{4}[-/.]\d\d[-/.]\d\d$/;
const CLOCK = /^\d{1,2}:\d\d:\d\d([.,]\d+)?$/;
const NUMBER = /^[-+]?\d+([.,]\d*)?(e[-+]?\d+)?$/i;

function timeAt(sample: Sample, c: number, how: 'named' | 'guessed'): Choice<[number, Column][]> | null {
  const texts = column(sample, c);
  const most = (tokens: string[], pattern: RegExp) =>
    tokens.filter((t) => pattern.test(t)).length >= MOST * tokens.length;
  if (most(texts, DATE)) return { value: [[c, { kind: 'time', form: 'date', unit: 's' }]], odds: 1 };
  if (most(texts, CLOCK)) {
    const value: [number, Column][] = [[c, { kind: 'time', form: 'clock', unit: 's' }]];
    if (c > 0 && most(column(sample, c - 1), DAY)) value.push([c - 1, { kind: 'day' }]);
    return { value, odds: 1 };
  }
  if (!most(texts, NUMBER) || (how === 'guessed' && riseOf(texts) <= 0)) return null;
  const unit = unitOf(texts, sample.header?.[c] ?? '');
  return { value: [[c, { kind: 'time', form: 'number', unit: unit.value }]], odds: unit.odds };
}

/** How much numbers rise like time: above 0 where they may be time, more for decimals, less for mere counting. */
function riseOf(texts: readonly string[]): number {
  const values = texts.map((t) => Number(t.replace(',', '.')));
  const pairs = values.length - 1;
  const point = texts.some((t) => /[.,]/.test(t));
  if (pairs < 1) return point ? 1 : 0;
  let rises = 0;
  let falls = 0;
  let ones = 0;
  for (let i = 1; i < values.length; i++) {
    const step = (values[i] as number) - (values[i - 1] as number);
    if (step > 0) rises++;
    if (step < 0) falls++;
    if (step === 1) ones++;
  }
  // Seconds without decimals seldom rise, but then they count from 1970.
  const often = rises >= 0.2 * pairs || (rises > 0 && (values[0] as number) >= 1e9);
  if (!often || falls > (1 - MOST) * pairs) return 0;
  const counting = ones === pairs && !point;
  return 0.1 + (rises - falls) / pairs + (point ? 1 : 0) - (counting ? 1 : 0);
}

const UNITS: [TimeUnit, number][] = [
  ['s', 1],
  ['ms', 1e3],
  ['us', 1e6],
  ['ns', 1e9],
];

/**
 * The unit of plain numbers: from the header; from their size, where they count from 1970 (1e9 to 4e9 s is 2001 to 2096);
 * else the unit in which the frame rate is the most usual for a recording, a thousand a second within a factor of sixteen
 * (from memory), weighed against what the decimals say: recorders that write three or more decimals write seconds.
 */
function unitOf(texts: readonly string[], header: string): Choice<TimeUnit> {
  const named = / (s|sec|seconds|ms|us|µs|ns)$/.exec(` ${header}`)?.[1];
  if (named) {
    const unit = named === 'µs' ? 'us' : named.startsWith('s') ? 's' : (named as TimeUnit);
    return { value: unit, odds: 1 };
  }
  const values = texts.map((t) => Number(t.replace(',', '.'))).filter(Number.isFinite);
  const first = values[0] ?? 0;
  for (const [unit, scale] of UNITS) {
    if (first >= 1e9 * scale && first < 4e9 * scale) return { value: unit, odds: 1 };
  }
  const decimals = texts.reduce((most, t) => Math.max(most, /[.,](\d*)/.exec(t)?.[1]?.length ?? 0), 0);
  const span =
    values.reduce((a, b) => Math.max(a, b), first) - values.reduce((a, b) => Math.min(a, b), first);
  if (!(span > 0)) return { value: 's', odds: decimals >= 3 ? 0.9 : 0.5 };
  const weights = UNITS.map(([unit, scale]) => {
    const rate = (values.length / span) * scale;
    const usual = Math.exp(-0.5 * (Math.log10(rate / 1000) / 1.2) ** 2);
    const seconds = decimals >= 3 ? [1, 0.02] : decimals > 0 ? [1, 0.2] : [0.1, 1];
    return usual * (seconds[unit === 's' ? 0 : 1] as number);
  });
  const total = weights.reduce((a, b) => a + b, 0);
  const best = weights.indexOf(Math.max(...weights));
  return {
    value: (UNITS[best] as [TimeUnit, number])[0],
    odds: total > 0 ? (weights[best] as number) / total : 0.25,
  };
}
