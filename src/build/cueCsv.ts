/** Cue sheets in CSV: name, start_s, end_s, level, note, and capture where the file is not named after it. */

import { type Cell, delimited } from '../capture/reference/delimited.ts';
import { ProblemList } from '../capture/reference/model.ts';
import { listFolder, readText, whole } from './disk.ts';
import type { CueSheet, Problem } from './model.ts';
import { nearest } from './nearest.ts';

/** The cues of one capture in one file. */
export interface CueTable {
  sheet: CueSheet;
  /** Line and column of a field of cue i, or of the capture (i −1); 1-based. */
  place(i: number, field: string): { line: number; column: number };
}

const COLUMNS = ['name', 'start_s', 'end_s', 'level', 'note', 'capture'] as const;
type Column = (typeof COLUMNS)[number];

/** All `cues/*.csv` of a build; what does not fit is told with line and column, and that line is left out. */
export async function readCueTables(
  root: string,
  captures: readonly string[],
): Promise<{ tables: Map<string, CueTable[]>; problems: Problem[] }> {
  const tables = new Map<string, CueTable[]>();
  const problems: Problem[] = [];
  for (const name of (await listFolder(root, 'cues')).names.filter((n) => /\.csv$/i.test(n))) {
    const file = `cues/${name}`;
    const read = await readText(root, file);
    if (read.kind === 'problem') problems.push(read.problem);
    if (read.kind !== 'read') continue;
    const text = new TextDecoder('utf-8').decode(read.bytes);
    const parsed = parseCueCsv(file, text, captureNamed(name, captures));
    tables.set(file, parsed.tables);
    problems.push(...parsed.problems);
  }
  return { tables, problems };
}

/** `capture` is that of the file's name, for lines that name none. */
export function parseCueCsv(
  file: string,
  text: string,
  capture: string,
): { tables: CueTable[]; problems: Problem[] } {
  const list = new ProblemList();
  const { rows, decimal } = delimited(text, list);
  const problems: Problem[] = list.finish().map((p) => ({ file, field: '', ...p }));
  const [header, ...body] = rows;
  if (header === undefined)
    return {
      tables: [],
      problems: [
        whole(file, 'an empty file', `the header ${COLUMNS.slice(0, 5).join(',')} and one cue a line`),
      ],
    };
  const at = new Map<Column, number>();
  for (const [c, cell] of header.entries()) {
    const known = COLUMNS.find((column) => column === cell.text.toLowerCase());
    const told = (found: string, expected: string) =>
      problems.push({ file, line: cell.line, column: cell.column, field: '', found, expected });
    if (known === undefined) {
      const near = nearest(cell.text, COLUMNS);
      told(`a column "${cell.text}"`, near ? `"${near}"` : `one of ${COLUMNS.join(', ')}`);
    } else if (at.has(known)) told(`the column "${known}" a second time`, 'each column once');
    else at.set(known, c);
  }
  const missing = (['name', 'start_s', 'end_s'] as const).filter((column) => !at.has(column));
  if (missing.length > 0) {
    const { line = 1, column = 1 } = header[0] ?? {};
    problems.push({
      file,
      line,
      column,
      field: '',
      found: `no column ${missing.join(', ')}`,
      expected: `the header ${COLUMNS.slice(0, 5).join(',')}`,
    });
    return { tables: [], problems };
  }
  const byCapture = new Map<string, { cues: CueSheet['cues']; rows: Cell[][] }>();
  for (const row of body) {
    const cell = (column: Column): Cell | undefined => row[at.get(column) ?? -1];
    const word = (column: Column) => cell(column)?.text ?? '';
    let whole = true;
    const wrong = (column: Column, expected: string) => {
      const { line, column: place } = cell(column) ?? { line: row[0]?.line ?? 0, column: 1 };
      const found = word(column) === '' ? 'nothing' : `"${word(column)}"`;
      problems.push({ file, line, column: place, field: column, found, expected });
      whole = false;
    };
    const number = (column: Column) => {
      const value =
        word(column) === ''
          ? Number.NaN
          : Number(decimal === ',' ? word(column).replace(',', '.') : word(column));
      if (!Number.isFinite(value))
        wrong(column, column === 'level' ? 'a number, or nothing' : 'a number of seconds');
      return value;
    };
    if (word('name') === '') wrong('name', 'what was done, for example "brake pressed"');
    const [startS, endS] = [number('start_s'), number('end_s')];
    const level = word('level') === '' ? undefined : number('level');
    if (!whole) continue;
    const of = word('capture') || capture;
    const entry = byCapture.get(of) ?? { cues: [], rows: [] };
    byCapture.set(of, entry);
    const note = word('note') || undefined;
    entry.cues.push({
      name: word('name'),
      startS,
      endS,
      ...(level !== undefined && { level }),
      ...(note !== undefined && { note }),
    });
    entry.rows.push(row);
  }
  const tables = [...byCapture].map(
    ([of, entry]): CueTable => ({
      sheet: { form: 'cues/1', capture: of, cues: entry.cues },
      place(i, field) {
        const row = entry.rows[Math.max(0, i)];
        const cell = row?.[at.get(field as Column) ?? 0] ?? row?.[0];
        return { line: cell?.line ?? 0, column: cell?.column ?? 0 };
      },
    }),
  );
  return { tables, problems };
}

/** The cues of a capture as such a file. */
export function cueCsv(cues: CueSheet['cues']): string {
  const quoted = (s: string) => (/[",\n\r]|^\s|^#|\s$/.test(s) ? `"${s.replaceAll('"', '""')}"` : s);
  const lines = cues.map(({ name, startS, endS, level, note }) =>
    [quoted(name), startS, endS, level ?? '', quoted(note ?? '')].join(','),
  );
  return `${['name,start_s,end_s,level,note', ...lines].join('\n')}\n`;
}

/** drive-1.csv is the sheet of drive-1.pcapng, also drive-1.csv.gz. */
function captureNamed(name: string, captures: readonly string[]): string {
  const base = name.replace(/\.csv$/i, '');
  return captures.find((c) => c === base || c.replace(/(?<=.)\.[^.]+(\.gz)?$/i, '') === base) ?? base;
}
