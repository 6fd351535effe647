/** A table of rows as a dictionary: columns inferred or named, start bits in whatever numbering, every misfit told. */
import { FLAG, formatId, idKey, MAX_BASE_ID, MAX_EXTENDED_ID } from '../../can/frame.ts';
import type { Dictionary } from '../model.ts';
import { assembled, withoutProblems } from './assemble.ts';
import { idIn, notPeriodic, numberIn, wholeIn, yesIn } from './cells.ts';
import { readColumns } from './columns.ts';
import { type Given, readField } from './fields.ts';
import { fillDown, idBase, ofBus, orderWithoutColumn, periodFactor } from './inferred.ts';
import type { ColumnGuess, Meaning, Table, TableProblem } from './model.ts';
import { type Convention, inferConvention, type PlacesRead } from './places.ts';
import { Row } from './row.ts';

export interface TableOptions {
  /** Columns that a person named: header, letter or 1-based number by meaning. */
  columns?: ReadonlyMap<Meaning, string> | undefined;
  startBit?: Convention | undefined;
  /** How identifiers without 0x are to be read. */
  id?: 'hex' | 'decimal' | undefined;
  /** Byte order where the table has no column for it. */
  byteOrder?: 'little' | 'big' | undefined;
  /** Takes only rows of this bus where the table has a column for it and several buses in it. */
  fileBus?: string | undefined;
}

export interface TableRead {
  /** What fits; rows that do not are in `problems`. */
  dictionary: Dictionary;
  columns: ColumnGuess[];
  /** null where there is no field at all. */
  places: PlacesRead | null;
  /** What was inferred or left out, one sentence each. */
  notes: string[];
  /** What a person has to say before the result can be believed. */
  questions: string[];
  problems: TableProblem[];
  /** Rows below the header. */
  rows: number;
}

/** Never throws. `bus` is the name that the dictionary gets. */
export function readTable(table: Table, bus: string, options: TableOptions = {}): TableRead {
  const { columns, unused, header, problems } = readColumns(table, options.columns);
  const notes: string[] = [];
  const questions: string[] = [];
  const empty = { dictionary: { form: 'dictionary/1' as const, bus, messages: [] }, columns, places: null };
  if (table.rows.length === 0)
    problems.splice(0, problems.length, {
      row: 0,
      column: '',
      found: 'no rows',
      expected: 'a row of headers and one field a row',
    });
  if (problems.length > 0)
    return { ...empty, notes, questions, problems, rows: Math.max(0, table.rows.length - 1) };
  if (unused.length > 0) notes.push(`columns left out: ${unused.join(', ')}`);
  const at = new Map(columns.map((c) => [c.meaning, c]));
  const start = at.get('start')?.at ?? -1;
  const pairs = table.rows
    .slice(header + 1)
    .some((cells) => /^\s*\d{1,2}[.:][1-8]\s*$/.test(cells[start] ?? ''));
  const all = table.rows
    .slice(header + 1)
    .map((cells, i) => new Row(cells, table.numbers[header + 1 + i] as number, at, problems, pairs));
  if (header > 0) notes.push(`${header} rows above the headers left out`);
  const rows = ofBus(all, options.fileBus, bus, notes, problems);
  fillDown(rows, at, notes);
  const base = idBase(rows, at.get('id') as ColumnGuess, options.id, notes, questions);
  const order = orderWithoutColumn(rows, at, options.byteOrder, notes, questions);
  const scale = periodFactor(at.get('period'));
  const drafts = new Map<number, Draft>();
  for (const row of rows) addRow(row, drafts, base, order, scale, table.decimal);
  lengthsMissing([...drafts.values()], notes);
  const fields = [...drafts.values()].flatMap((draft) => draft.fields.map((field) => ({ ...field, draft })));
  const stated = options.startBit ?? (/autosar/i.test(at.get('start')?.header ?? '') ? 'autosar' : null);
  const places = inferConvention(
    fields.map(({ given, draft }) => ({
      ...given.place,
      message: draft.key.toString(),
      messageLength: draft.length ?? 64,
      selectorValue: given.kind === 'signal' ? (given.selectorValue ?? null) : null,
    })),
    fields.some((f) => f.given.place.byte !== null) && stated === 'autosar' && options.startBit === undefined
      ? 'byte.bit'
      : stated,
  );
  if (places.rivals.length > 0)
    questions.push(
      `start bits: "${places.convention}" fits, "${places.rivals.join('", "')}" as well, and they put big-endian fields elsewhere; say which with the numbering`,
    );
  const { messages, rowOf } = assembled(drafts, places.convention, problems);
  const dictionary = withoutProblems({ form: 'dictionary/1', bus, messages }, rowOf, problems);
  problems.sort((a, b) => a.row - b.row);
  return {
    dictionary,
    columns,
    places: fields.length > 0 ? places : null,
    notes,
    questions,
    problems,
    rows: all.length,
  };
}

export interface Draft {
  key: number;
  row: Row;
  name: string | undefined;
  id: number;
  extended: boolean;
  length: number | null;
  period: number | null;
  sender: string | undefined;
  note: string | undefined;
  fields: { given: Given; row: Row }[];
}

function addRow(
  row: Row,
  drafts: Map<number, Draft>,
  base: 'hex' | 'decimal',
  order: 'little' | 'big' | null,
  periodScale: number,
  decimal: Table['decimal'],
): void {
  const id = idIn(row.cell('id'), base);
  if (id === null || id < 0 || id > MAX_EXTENDED_ID) {
    row.wrong('id', `an identifier, ${base === 'hex' ? 'hexadecimal' : 'decimal'}, up to 0x1FFFFFFF`);
    return;
  }
  const extendedCell = row.blank('extended') ? null : yesIn(row.cell('extended'));
  if (!row.blank('extended') && extendedCell === null) row.wrong('extended', 'yes or no');
  const extended = extendedCell ?? id > MAX_BASE_ID;
  const key = idKey(id, extended ? FLAG.extended : 0);
  const length = attribute(row, 'messageLength', (text) => within(wholeIn(text), 0, 64), '0 to 64 bytes');
  const period = readPeriod(row, periodScale, decimal);
  const fresh: Draft = {
    key,
    row,
    name: row.text('message'),
    id,
    extended,
    length,
    period,
    sender: row.text('sender'),
    note: row.text('messageNote'),
    fields: [],
  };
  const draft = drafts.get(key) ?? fresh;
  if (draft === fresh) drafts.set(key, draft);
  else join(draft, fresh, row);
  const given = readField(row, order, decimal);
  if (given !== null && given !== 'none') draft.fields.push({ given, row });
}

/** What two rows say of one message has to agree. */
function join(draft: Draft, fresh: Draft, row: Row): void {
  const meanings = {
    name: 'message',
    length: 'messageLength',
    period: 'period',
    sender: 'sender',
    note: 'messageNote',
  } as const;
  for (const field of ['name', 'length', 'period', 'sender', 'note'] as const) {
    const value = fresh[field];
    if (value === null || value === undefined) continue;
    const before = draft[field];
    if (before === null || before === undefined) (draft as unknown as Record<string, unknown>)[field] = value;
    else if (before !== value)
      row.wrong(meanings[field], `${String(before)}, as in row ${draft.row.number} of the same identifier`);
  }
}

function attribute<T>(
  row: Row,
  meaning: Meaning,
  read: (text: string) => T | null,
  expected: string,
): T | null {
  if (row.blank(meaning)) return null;
  const value = read(row.cell(meaning).trim());
  if (value === null) row.wrong(meaning, expected);
  return value;
}

function readPeriod(row: Row, scale: number, decimal: Table['decimal']): number | null {
  if (row.blank('period') || notPeriodic(row.cell('period'))) return null;
  const word = /^(.*?)\s*(ms|s)?$/i.exec(row.cell('period').trim()) as RegExpExecArray;
  const value = numberIn(word[1] as string, decimal);
  const factor = word[2] === undefined ? scale : word[2].toLowerCase() === 's' ? 1000 : 1;
  if (value !== null && value > 0) return value * factor;
  return row.wrong('period', 'a time above 0, or nothing where the message is not periodic');
}

/** Where the table does not say how long payloads are, they are as short as their fields allow, at least 8 bytes. */
function lengthsMissing(drafts: readonly Draft[], notes: string[]): void {
  const without = drafts.filter((draft) => draft.length === null);
  if (without.length === 0) return;
  const names = without.slice(0, 3).map((draft) => formatId(draft.id, draft.extended));
  notes.push(
    `payload length not stated for ${without.length} messages (${names.join(', ')}${without.length > 3 ? ', …' : ''}): taken as 8 bytes`,
  );
  for (const draft of without) draft.length = 8;
}

function within(value: number | null, from: number, to: number): number | null {
  return value !== null && value >= from && value <= to ? value : null;
}
