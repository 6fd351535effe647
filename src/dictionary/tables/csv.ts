/** Delimited text as a table, and back (RFC 4180). Every cell keeps its text; nothing is trimmed or left out here. */
import type { Table, TableProblem } from './model.ts';

/** Cells beyond these are refused: no dictionary comes near, and work stays bounded. */
export const MOST_COLUMNS = 512;
export const MOST_CELLS = 2_000_000;

/** Never throws. Comma, semicolon or tabulator between the columns, told by the first lines. */
export function readCsv(text: string): { table: Table; delimiter: string; problems: TableProblem[] } {
  const body = text.startsWith('\ufeff') ? text.slice(1) : text;
  const delimiter = delimiterOf(body);
  const rows: string[][] = [];
  const numbers: number[] = [];
  const problems: TableProblem[] = [];
  let [at, line, count] = [0, 1, 0];
  while (at < body.length) {
    const number = line;
    const row: string[] = [];
    for (;;) {
      let value = '';
      if (body[at] === '"') {
        const read = quoted(body, at + 1);
        if (read === null) {
          const expected = 'a closing quote; look from here downwards';
          problems.push({ row: line, column: '', found: 'a quote that does not end', expected });
          return { table: { rows, numbers, decimal: decimalOf(rows, delimiter) }, delimiter, problems };
        }
        value = read.value;
        line += linesIn(body, at, read.end);
        at = read.end;
      }
      const from = at;
      while (at < body.length && body[at] !== delimiter && body[at] !== '\n' && body[at] !== '\r') at++;
      row.push(value + body.slice(from, at));
      count++;
      if (body[at] !== delimiter) break;
      at++;
    }
    if (body[at] === '\r' && body[at + 1] === '\n') at++;
    at++;
    line++;
    if (row.some((cell) => cell.trim() !== '')) {
      rows.push(row);
      numbers.push(number);
    }
    if (row.length > MOST_COLUMNS || count > MOST_CELLS) {
      const found = row.length > MOST_COLUMNS ? `${row.length} columns` : `more than ${MOST_CELLS} cells`;
      const expected = `at most ${MOST_COLUMNS} columns and ${MOST_CELLS} cells`;
      problems.push({ row: number, column: '', found, expected });
      return { table: { rows: [], numbers: [], decimal: '.' }, delimiter, problems };
    }
  }
  return { table: { rows, numbers, decimal: decimalOf(rows, delimiter) }, delimiter, problems };
}

/** Rows as comma-separated text, quoted where needed. */
export function writeCsv(rows: readonly (readonly string[])[]): string {
  const cell = (text: string) => (/[",\n\r]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text);
  return rows.map((row) => `${row.map(cell).join(',')}\n`).join('');
}

function quoted(text: string, from: number): { value: string; end: number } | null {
  const parts: string[] = [];
  for (let at = from; ; ) {
    const close = text.indexOf('"', at);
    if (close < 0) return null;
    parts.push(text.slice(at, close));
    if (text[close + 1] !== '"') return { value: parts.join('"'), end: close + 1 };
    at = close + 2;
  }
}

function linesIn(text: string, from: number, to: number): number {
  let lines = 0;
  for (let at = text.indexOf('\n', from); at >= 0 && at < to; at = text.indexOf('\n', at + 1)) lines++;
  return lines;
}

/** The sign that splits the first line into most parts, outside quotes. */
function delimiterOf(text: string): string {
  const head = text
    .slice(0, 20_000)
    .replace(/"(?:[^"]|"")*"/g, '')
    .split(/\r?\n|\r/)
    .filter((line) => line.trim() !== '')
    .slice(0, 20);
  const score = (sign: string) => Math.max(0, ...head.map((line) => line.split(sign).length - 1));
  return [',', ';', '\t'].reduce((best, sign) => (score(sign) > score(best) ? sign : best));
}

/** Decimal commas are believed only where commas do not part the columns and no cell has a point. */
function decimalOf(rows: readonly string[][], delimiter: string): Table['decimal'] {
  if (delimiter === ',') return '.';
  let commas = 0;
  for (const row of rows)
    for (const cell of row) {
      if (/^\s*[-+]?\d+\.\d+\s*$/.test(cell)) return '.';
      if (/^\s*[-+]?\d+,\d+\s*$/.test(cell)) commas++;
    }
  return commas > 0 ? '?' : '.';
}
