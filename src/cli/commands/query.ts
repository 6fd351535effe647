import { join } from 'node:path';
import { Command } from 'commander';
import { CAPTURES_FOLDER } from '../../build/files.ts';
import type { SqlValue } from '../../build/query/cells.ts';
import { type QueryColumn, query } from '../../build/query/query.ts';
import { readCaptures, usableBuild } from '../inputs.ts';
import { grouped, printJson, printLine, printTable } from '../print.ts';
import { stopOnInterrupt } from '../progress.ts';

/** Rows of a printed table; more are for a file. */
const TABLE_ROWS = 500;

export function queryBuild(): Command {
  return new Command('query')
    .description(
      'ask in SQL about frames, decoded signals, cues and reference channels of all captures of a build',
    )
    .argument('<build>', 'folder of the build')
    .argument('<sql>', 'one query; nothing in the build is changed by it')
    .option('--csv', 'print all rows as CSV')
    .option('--json', 'print all rows as JSON')
    .addHelpText(
      'after',
      `
Views:
  frames   capture, t, bus, id, ext, flags, length, data
  signals  capture, t, bus, message, signal, value, unit, believed
  cues     capture, name, "start", "end", level
  "references"  capture, name, t, own_t, value, unit, clock
t, "start" and "end" are seconds from the first frame of the capture, id is hex text, believed is false where a value lies
outside the signal's min and max. Of a reference channel, own_t is its own time and t that of the capture, by an accepted clock,
as typed, or by the dates of both (clock says which), null where nothing ties the two. The SQL is DuckDB's.

Example:
  bywright query demo "select bus, id, count(*) as frames from frames group by all order by frames desc"`,
    )
    .action(async (folder: string, sql: string, options: { csv?: boolean; json?: boolean }) => {
      const signal = stopOnInterrupt();
      const build = await usableBuild(folder);
      const read = async (name: string) =>
        (await readCaptures([join(folder, CAPTURES_FOLDER, name)], { signal })).capture;
      const result = await query(build, sql, { read, signal });
      try {
        if (options.csv) await printCsv(result.columns, result.rows());
        else if (options.json) {
          const rows: SqlValue[][] = [];
          for await (const some of result.rows()) for (const row of some) rows.push(row.map(finite));
          printJson({ form: 'rows/1', columns: result.columns, rows });
        } else await printRows(result.columns, result.rows());
      } finally {
        result.close();
      }
    });
}

async function printRows(columns: readonly QueryColumn[], rows: AsyncIterable<SqlValue[][]>): Promise<void> {
  const shown: string[][] = [];
  let count = 0;
  for await (const some of rows) {
    for (const row of some.slice(0, TABLE_ROWS - shown.length)) shown.push(row.map(cellText));
    count += some.length;
  }
  printTable(
    columns.map((c) => c.name),
    shown,
  );
  printLine();
  if (count <= TABLE_ROWS) printLine(count === 1 ? '1 row' : `${grouped(count)} rows`);
  else printLine(`${grouped(count)} rows, the first ${TABLE_ROWS} shown; --csv and --json print all`);
}

async function printCsv(columns: readonly QueryColumn[], rows: AsyncIterable<SqlValue[][]>): Promise<void> {
  const line = (cells: readonly string[]) => cells.map(csvCell).join(',');
  await written(`${line(columns.map((c) => c.name))}\n`);
  for await (const some of rows)
    await written(`${some.map((row) => line(row.map((v) => (v === null ? '' : String(v))))).join('\n')}\n`);
}

/** Waits until standard output has taken it, so that a large result does not pile up in memory. */
function written(text: string): Promise<void> {
  return new Promise((resolve) => {
    if (process.stdout.write(text)) resolve();
    else process.stdout.once('drain', resolve);
  });
}

function csvCell(text: string): string {
  return /[",\n\r]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}

function cellText(value: SqlValue): string {
  if (value === null) return '–';
  return typeof value === 'number' && !Number.isInteger(value)
    ? String(Number(value.toPrecision(9)))
    : String(value);
}

/** JSON has no infinity and no "not a number". */
function finite(value: SqlValue): SqlValue {
  return typeof value === 'number' && !Number.isFinite(value) ? null : value;
}
