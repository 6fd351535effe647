/** What a table leaves unsaid and its cells tell: which rows belong to a bus and a message, how identifiers are spelled. */
import { MAX_EXTENDED_ID } from '../../can/frame.ts';
import { wholeIn } from './cells.ts';
import { unitOfHeader } from './columns.ts';
import type { ColumnGuess, Meaning, TableProblem } from './model.ts';
import type { TableOptions } from './read.ts';
import type { Row } from './row.ts';

/** `stated` is a bus of the table that a person named; else rows of `usual` are meant where there are such. */
export function ofBus(
  rows: Row[],
  stated: string | undefined,
  usual: string,
  notes: string[],
  problems: TableProblem[],
): Row[] {
  const names = [...new Set(rows.map((row) => row.text('bus') ?? ''))].filter((name) => name !== '');
  if (names.length === 0) return rows;
  const shown = names.slice(0, 8).join(', ');
  const wrong = (found: string, expected: string): Row[] => {
    problems.push({ row: 0, column: 'bus', found, expected });
    return [];
  };
  const wanted = stated ?? (names.includes(usual) ? usual : names.length === 1 ? names[0] : undefined);
  if (wanted === undefined)
    return wrong(`rows of ${names.length} buses (${shown})`, 'one of them named as the bus of the file');
  if (!names.includes(wanted)) return wrong(`no rows of "${wanted}"`, `one of: ${shown}`);
  const kept = rows.filter((row) => row.text('bus') === wanted);
  if (kept.length < rows.length) notes.push(`${rows.length - kept.length} rows of other buses left out`);
  return kept;
}

/** Tables often say what belongs to the message in its first row only. */
export function fillDown(rows: Row[], at: ReadonlyMap<Meaning, ColumnGuess>, notes: string[]): void {
  const id = at.get('id') as ColumnGuess;
  const own = (['message', 'id', 'extended', 'messageLength', 'period', 'sender', 'messageNote'] as const)
    .map((meaning) => at.get(meaning)?.at)
    .filter((column): column is number => column !== undefined);
  let filled = 0;
  let last: Row | null = null;
  for (const row of rows) {
    const name = row.text('message');
    if (!row.blank('id') || (last !== null && name !== undefined && name !== last.text('message'))) {
      last = row.blank('id') ? null : row;
      continue;
    }
    if (last === null || row.blank('name')) continue;
    for (const column of own)
      if ((row.cells[column] ?? '').trim() === '') row.cells[column] = last.cells[column] ?? '';
    filled++;
  }
  if (filled > 0) notes.push(`${filled} rows without "${id.header}" belong to the message above`);
}

export function idBase(
  rows: readonly Row[],
  column: ColumnGuess,
  stated: TableOptions['id'],
  notes: string[],
  questions: string[],
): 'hex' | 'decimal' {
  const words = rows.map((row) => row.cell('id').trim()).filter((word) => word !== '');
  const bare = words.filter((word) => !/^0x|h$/i.test(word));
  if (stated !== undefined || bare.length === 0) return stated ?? 'hex';
  const told = (base: 'hex' | 'decimal', why: string) => {
    notes.push(`identifiers read as ${base === 'hex' ? 'hexadecimal' : 'decimal'}: ${why}`);
    return base;
  };
  if (/hex/i.test(column.header)) return told('hex', `the header says "${column.header}"`);
  if (/dec/i.test(column.header)) return told('decimal', `the header says "${column.header}"`);
  const letter = bare.find((word) => /^[0-9a-f]*[a-f][0-9a-f]*$/i.test(word));
  if (letter !== undefined) return told('hex', `"${letter}" can be nothing else`);
  const zero = bare.find((word) => /^0\d/.test(word));
  if (zero !== undefined) return told('hex', `"${zero}" starts with a zero`);
  const large = bare.find((word) => /^\d+$/.test(word) && Number.parseInt(word, 16) > MAX_EXTENDED_ID);
  if (large !== undefined) return told('decimal', `"${large}" is too large for hexadecimal`);
  questions.push(
    `identifiers such as "${bare[0]}" can be decimal or hexadecimal, and nothing in the table tells; they are read as decimal`,
  );
  return 'decimal';
}

export function orderWithoutColumn(
  rows: readonly Row[],
  at: ReadonlyMap<Meaning, ColumnGuess>,
  stated: 'little' | 'big' | undefined,
  notes: string[],
  questions: string[],
): 'little' | 'big' | null {
  if (stated !== undefined) return stated;
  if (at.has('order')) return null;
  const several = rows.find((row) => (wholeIn(row.cell('length')) ?? 0) > 1);
  if (several !== undefined)
    questions.push(
      'the table has no column for the byte order; fields are read as little-endian; say which it is',
    );
  else notes.push('no column for the byte order; all fields are single bits');
  return 'little';
}

/** Milliseconds of one unit of the column. */
export function periodFactor(column: ColumnGuess | undefined): number {
  const unit = column === undefined ? '' : unitOfHeader(column.header).toLowerCase();
  return unit === 's' || unit === 'sec' ? 1000 : unit === 'us' || unit === 'µs' ? 0.001 : 1;
}
