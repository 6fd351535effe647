/** Delimited text as cells with their places: delimiter and decimal sign inferred, quotes as in RFC 4180, # lines left out. */
import type { ProblemList } from './model.ts';

export interface Cell {
  text: string;
  /** 1-based. */
  line: number;
  column: number;
}

export interface Delimited {
  /** Rows that are not blank. */
  rows: Cell[][];
  delimiter: ',' | ';' | '\t';
  decimal: '.' | ',';
}

export function delimited(text: string, problems: ProblemList): Delimited {
  const body = text.startsWith('\ufeff') ? text.slice(1) : text;
  const delimiter = delimiterOf(body);
  const rows = cells(body, delimiter, problems);
  // With a comma between the columns it cannot stand in a number.
  const sample = rows.slice(0, 200).flat();
  const commas = sample.filter((c) => /^[-+]?\d+,\d+$/.test(c.text)).length;
  const points = sample.filter((c) => /^[-+]?\d+\.\d+$/.test(c.text)).length;
  return { rows, delimiter, decimal: delimiter !== ',' && commas > points ? ',' : '.' };
}

/** The sign that splits most of the first lines into the same number of parts. */
function delimiterOf(text: string): ',' | ';' | '\t' {
  const lines = text
    .slice(0, 20_000)
    .split(/\r?\n|\r/)
    .filter((l) => l.trim() !== '' && !l.startsWith('#'))
    .slice(0, 20);
  const counts = ([';', '\t', ','] as const).map((sign) => {
    const parts = lines.map((l) => l.split(sign).length);
    const usual = parts[0] ?? 1;
    return { sign, score: usual > 1 ? parts.filter((n) => n === usual).length : 0 };
  });
  return counts.reduce((best, next) => (next.score > best.score ? next : best)).score > 0
    ? counts.reduce((best, next) => (next.score > best.score ? next : best)).sign
    : ',';
}

function cells(text: string, delimiter: string, problems: ProblemList): Cell[][] {
  const rows: Cell[][] = [];
  let row: Cell[] = [];
  let line = 1;
  let lineStart = 0;
  let at = 0;
  const endRow = () => {
    if (row.some((c) => c.text !== '')) rows.push(row);
    row = [];
  };
  while (at < text.length) {
    if (row.length === 0 && text[at] === '#' && at === lineStart) {
      while (at < text.length && text[at] !== '\n' && text[at] !== '\r') at++;
    }
    const [startLine, column] = [line, at - lineStart + 1];
    let value = '';
    if (text[at] === '"') {
      at++;
      for (;;) {
        const close = text.indexOf('"', at);
        if (close < 0) {
          problems.caution(
            'quote without end',
            startLine,
            column,
            'a quote that does not end',
            'a closing quote; look from here downwards',
          );
          value += text.slice(at);
          at = text.length;
          break;
        }
        value += text.slice(at, close);
        at = close + 1;
        if (text[at] !== '"') break;
        value += '"';
        at++;
      }
      for (const [k, c] of [...value].entries()) {
        if (c === '\n') {
          line++;
          lineStart = at - (value.length - k);
        }
      }
    }
    const from = at;
    while (at < text.length && text[at] !== delimiter && text[at] !== '\n' && text[at] !== '\r') at++;
    value += text.slice(from, at);
    row.push({ text: value.trim(), line: startLine, column });
    if (at >= text.length) break;
    const sign = text[at];
    at++;
    if (sign === delimiter) {
      if (at === text.length) row.push({ text: '', line, column: at - lineStart + 1 });
      continue;
    }
    if (sign === '\r' && text[at] === '\n') at++;
    endRow();
    line++;
    lineStart = at;
  }
  endRow();
  return rows;
}
