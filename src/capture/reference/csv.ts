/** Reads measured series from delimited text: one column of times, the others values, with units in the header. */

import { type Cell, delimited } from './delimited.ts';
import { ProblemList, type ReferenceRead, type ReferenceSeries, shown } from './model.ts';
import {
  clockSeconds,
  countSeconds,
  dateNs,
  guessTime,
  isEpoch,
  isTimeHeader,
  type TimeForm,
  type TimeUnit,
} from './times.ts';
import { columnHeader } from './units.ts';

export interface CsvOptions {
  /** Header of the column of times where the guess is wrong. */
  timeColumn?: string | undefined;
  /** Unit of plain numbers in it where the guess is wrong. */
  timeUnit?: TimeUnit | undefined;
}

/** Rows that the guesses look at. */
const SAMPLE = 200;
/** More than any logger writes; columns are compared with each other. */
const MOST_COLUMNS = 1000;

/**
 * Delimiter (comma, semicolon, tab), decimal sign, header and form of the times are inferred. Empty cells and text among
 * numbers become NaN, and so does a value beside which a column "<its name>_valid" holds 0; rows whose time is missing,
 * repeated or runs backwards are left out; each is told with its line.
 * Never throws.
 */
export function readReferenceCsv(text: string, options: CsvOptions = {}): ReferenceRead {
  const problems = new ProblemList();
  const { rows, decimal } = delimited(text, problems);
  const none = (guess: string): ReferenceRead => ({
    series: [],
    guess,
    confidence: 0,
    problems: problems.finish(),
  });
  const number = (cell: string) => numberIn(cell, decimal);
  const first = rows[0];
  if (first === undefined) {
    problems.error(0, 0, 'no rows', 'a header such as "time [s],speed [km/h]" and one row of numbers a line');
    return none('an empty file');
  }
  const hasHeader = first.every((c) => !isValue(c.text, number)) && first.some((c) => c.text !== '');
  const width = first.length;
  if (width > MOST_COLUMNS) {
    problems.error(
      first[0]?.line ?? 1,
      1,
      `${width} columns`,
      `at most ${MOST_COLUMNS}; leave out those that are not needed`,
    );
    return none('too many columns');
  }
  const headers = Array.from({ length: width }, (_, c) =>
    hasHeader ? (first[c]?.text ?? '') : `column ${c + 1}`,
  );
  const body = hasHeader ? rows.slice(1) : rows;
  if (body.length === 0) {
    problems.error(first[0]?.line ?? 1, 1, 'a header and no rows', 'one row of numbers a line below it');
    return none('no rows');
  }
  const sample = (c: number) => body.slice(0, SAMPLE).map((row) => row[c]?.text ?? '');
  const named = options.timeColumn;
  const asked =
    named === undefined ? -1 : headers.findIndex((h) => h === named || columnHeader(h).name === named);
  if (named !== undefined && asked < 0) {
    problems.error(
      first[0]?.line ?? 1,
      1,
      `no column ${shown(named)}`,
      `one of ${headers.map(shown).join(', ')}`,
    );
    return none('no column of times');
  }
  const order = asked >= 0 ? [asked] : candidates(headers);
  let found: { c: number; guess: NonNullable<ReturnType<typeof guessTime>> } | null = null;
  for (const c of order) {
    const guess = guessTime(sample(c), hasHeader ? (headers[c] as string) : '', number);
    if (guess !== null) {
      found = { c, guess };
      break;
    }
  }
  if (found === null) {
    const expected = 'a column of times that rise: seconds, milliseconds, dates (ISO 8601) or hh:mm:ss';
    problems.error(body[0]?.[0]?.line ?? 1, 1, 'no column that could be time', expected);
    return none('no column of times');
  }
  const { c: timeAt, guess } = found;
  const form: TimeForm =
    options.timeUnit && guess.time.form === 'number'
      ? { form: 'number', unit: options.timeUnit }
      : guess.time;
  const told = form === guess.time;
  const times = readTimes(body, timeAt, form, number, problems);
  const doubts = headers.map((_, c) => headers.findIndex((h) => isDoubtOf(h, headers[c] as string)));
  const series = headers.flatMap((header, c): ReferenceSeries[] =>
    c === timeAt || doubts.includes(c) || !sample(c).some((cell) => Number.isFinite(number(cell)))
      ? []
      : [{ ...columnHeader(header), ...values(times, c, header, number, problems, doubts[c] as number) }],
  );
  if (series.length === 0)
    problems.error(
      first[0]?.line ?? 1,
      1,
      'no column of numbers beside the times',
      'at least one column of values',
    );
  else if (times.rows.length === 0) problems.error(0, 0, 'no row with a time', 'rows whose times rise');
  const words =
    form.form === 'number' ? `time in ${form.unit}` : form.form === 'date' ? 'dates' : 'time of day';
  return {
    series: times.rows.length === 0 ? [] : series,
    guess: `${words} (${shown(headers[timeAt] as string)}), told by ${told ? guess.by : 'you'}`,
    confidence: told ? guess.confidence : 1,
    problems: problems.finish(),
  };
}

/** Columns in the order in which they may be time: those that say so, then from the left. */
function candidates(headers: readonly string[]): number[] {
  const all = headers.map((_, c) => c);
  return [
    ...all.filter((c) => isTimeHeader(headers[c] as string)),
    ...all.filter((c) => !isTimeHeader(headers[c] as string)),
  ];
}

interface Times {
  rows: Cell[][];
  timeS: Float64Array;
  originNs: bigint | null;
}

function readTimes(
  body: readonly Cell[][],
  c: number,
  form: TimeForm,
  number: (cell: string) => number,
  problems: ProblemList,
): Times {
  const rows: Cell[][] = [];
  const time: number[] = [];
  let originNs: bigint | null = null;
  let start = 0;
  let day = 0;
  let before = Number.NEGATIVE_INFINITY;
  for (const row of body) {
    const cell = row[c];
    const text = cell?.text ?? '';
    const [line, column] = [cell?.line ?? row[0]?.line ?? 0, cell?.column ?? 1];
    let t = Number.NaN;
    if (form.form === 'date') {
      const ns = dateNs(text);
      if (ns !== null) {
        originNs ??= ns;
        t = Number(ns - originNs) / 1e9;
      }
    } else if (form.form === 'clock') {
      const s = clockSeconds(text);
      if (s !== null) {
        if (rows.length === 0) start = s;
        // Past midnight the clock starts anew; a smaller step back is a mistake.
        if (s + day - start < before - 43_200) day += 86_400;
        t = s + day - start;
      }
    } else {
      const value = number(text);
      const s = countSeconds(value, form.unit);
      if (rows.length === 0 && isEpoch(s)) {
        originNs = BigInt(Math.round(s * 1e6)) * 1000n;
        start = s;
      }
      t = s - start;
    }
    if (!Number.isFinite(t)) {
      problems.caution(
        'no time',
        line,
        column,
        text === '' ? 'no time' : `${shown(text)} as time`,
        'a time; the row is left out',
      );
      continue;
    }
    if (t === before) {
      problems.caution(
        'repeated time',
        line,
        column,
        `the time ${shown(text)} a second time`,
        'each time once; the row is left out',
      );
      continue;
    }
    if (t < before) {
      problems.caution(
        'time running backwards',
        line,
        column,
        `the time ${shown(text)}, before that of the row above`,
        'times that rise; the row is left out',
      );
      continue;
    }
    before = t;
    rows.push(row);
    time.push(t);
  }
  return { rows, timeS: Float64Array.from(time), originNs };
}

function values(
  { rows, timeS, originNs }: Times,
  c: number,
  header: string,
  number: (cell: string) => number,
  problems: ProblemList,
  doubt: number,
) {
  const value = new Float64Array(rows.length);
  for (const [i, row] of rows.entries()) {
    const cell = row[c];
    const doubted = doubt >= 0 && number(row[doubt]?.text ?? '') === 0;
    const v = cell === undefined || cell.text === '' || doubted ? Number.NaN : number(cell.text);
    value[i] = v;
    if (
      cell !== undefined &&
      cell.text !== '' &&
      !doubted &&
      !Number.isFinite(v) &&
      !/^(nan|-|–|n\/?a|null)$/i.test(cell.text)
    ) {
      value[i] = Number.NaN;
      problems.caution(
        `no number in ${shown(header)}`,
        cell.line,
        cell.column,
        shown(cell.text),
        'a number, or nothing; it is taken as nothing',
      );
    } else if (!Number.isFinite(v)) value[i] = Number.NaN;
  }
  return { timeS, value, originNs };
}

function numberIn(cell: string, decimal: '.' | ','): number {
  const text = decimal === ',' ? cell.replace(',', '.') : cell;
  const value = /^[-+]?(\d+\.?\d*|\.\d+)(e[-+]?\d+)?$/i.test(text) ? Number(text) : Number.NaN;
  return Number.isFinite(value) ? value : Number.NaN;
}

function isValue(text: string, number: (cell: string) => number): boolean {
  return Number.isFinite(number(text)) || dateNs(text) !== null || clockSeconds(text) !== null;
}

/** Whether a column says which values of another are to be believed. */
function isDoubtOf(header: string, of: string): boolean {
  const name = columnHeader(of).name.toLowerCase();
  return name !== '' && [`${name}_valid`, `${name} valid`].includes(header.trim().toLowerCase());
}
