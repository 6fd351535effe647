/** A file of message definitions by its ending: CSV, spreadsheet, AUTOSAR system description or YAML of our own. */
import { open } from 'node:fs/promises';
import { basename } from 'node:path';
import { readAutosar } from '../../dictionary/autosar/index.ts';
import { camelKeys } from '../../dictionary/case.ts';
import type { Dictionary } from '../../dictionary/model.ts';
import { dictionaryProblems } from '../../dictionary/problems.ts';
import {
  COLUMNS,
  readCsv,
  readTable,
  type Table,
  type TableOptions,
  type TableRead,
} from '../../dictionary/tables/index.ts';
import { checkFields } from '../fields.ts';
import { FILE_KINDS } from '../files.ts';
import { fieldText } from '../problem.ts';
import { contentHash } from '../save.ts';
import { parseYaml } from '../yamlFile.ts';
import { letters, readSpreadsheet, SpreadsheetError } from './spreadsheet.ts';

/** A file that gives no definitions at all; one sentence. */
export class DefinitionsError extends Error {
  override name = 'DefinitionsError';
}

export const DEFINITION_FORMATS = {
  csv: 'delimited text, one field a row',
  xlsx: 'spreadsheet, one field a row',
  arxml: 'AUTOSAR system description',
  yaml: 'dictionary file of a build',
} as const;

export type DefinitionFormat = keyof typeof DEFINITION_FORMATS;

export interface DefinitionOptions extends TableOptions {
  /** Sheet of a spreadsheet; default the first. */
  sheet?: string | undefined;
}

export interface DefinitionsRead {
  dictionary: Dictionary;
  format: DefinitionFormat;
  /** SHA-256 of the file, hex. */
  sha256: string;
  /** How each column was understood: "start bit → column F "Startbit" (95 %)". Empty for formats without columns. */
  columns: string[];
  notes: string[];
  questions: string[];
  /** What does not fit, each with its place: "row 12, column F "Startbit"", "line 40 (/Frames/Speed)". */
  problems: { place: string; found: string; expected: string }[];
}

const MOST_TEXT_BYTES = 64 * 2 ** 20;

/** Throws `DefinitionsError`. `bus` is the bus of the build that the definitions are for. */
export async function readDefinitions(
  path: string,
  bus: string,
  options: DefinitionOptions = {},
): Promise<DefinitionsRead> {
  const format = formatOf(path);
  const bytes = await readLimited(path);
  const sha256 = contentHash(bytes);
  const base = { format, sha256, columns: [], notes: [], questions: [] };
  switch (format) {
    case 'arxml':
      return { ...base, ...fromAutosar(path, bytes, bus, options.fileBus) };
    case 'yaml':
      return { ...base, ...fromYaml(path, bytes, bus) };
    case 'csv': {
      const { text, note } = decoded(bytes);
      const { table, problems } = readCsv(text);
      const read = fromTable(table, bus, options, (row, column) => `line ${row}${column}`);
      read.notes.unshift(...note);
      read.problems.unshift(
        ...problems.map((p) => ({ place: `line ${p.row}`, found: p.found, expected: p.expected })),
      );
      return { ...base, ...read };
    }
    case 'xlsx': {
      try {
        const { table, sheet, notes } = readSpreadsheet(bytes, options.sheet);
        const read = fromTable(table, bus, options, (row, column) => `sheet "${sheet}", row ${row}${column}`);
        return { ...base, ...read, notes: [...notes, ...read.notes] };
      } catch (error) {
        if (error instanceof SpreadsheetError) throw new DefinitionsError(`${path}: ${error.message}`);
        throw error;
      }
    }
  }
}

/** Throws `DefinitionsError` where the ending is none that we know. */
export function formatOf(path: string): DefinitionFormat {
  const ending = /\.(\w+)$/.exec(path)?.[1]?.toLowerCase() ?? '';
  const known: Record<string, DefinitionFormat> = {
    csv: 'csv',
    txt: 'csv',
    tsv: 'csv',
    xlsx: 'xlsx',
    xlsm: 'xlsx',
    arxml: 'arxml',
    xml: 'arxml',
    yaml: 'yaml',
    yml: 'yaml',
  };
  const format = known[ending];
  if (format !== undefined) return format;
  throw new DefinitionsError(
    `${path}: the ending "${ending === '' ? '' : `.${ending}`}" names no format of message definitions; right would be ${Object.entries(
      DEFINITION_FORMATS,
    )
      .map(([name, words]) => `.${name} (${words})`)
      .join(', ')}`,
  );
}

/** The file, unless it is larger than any that we read; also what grows while it is read. */
async function readLimited(path: string): Promise<Uint8Array> {
  const file = await open(path, 'r');
  try {
    const { size } = await file.stat();
    if (size > MOST_TEXT_BYTES)
      throw new DefinitionsError(
        `${path}: it has ${(size / 2 ** 20).toFixed(0)} MB; definitions of at most 64 MB are read, for example of one bus`,
      );
    return await file.readFile();
  } finally {
    await file.close();
  }
}

function fromTable(
  table: Table,
  bus: string,
  options: DefinitionOptions,
  placeOf: (row: number, column: string) => string,
): Pick<DefinitionsRead, 'dictionary' | 'columns' | 'notes' | 'questions' | 'problems'> {
  const read = readTable(table, bus, options);
  return {
    dictionary: read.dictionary,
    columns: columnWordsOf(read),
    notes: [...(read.places === null ? [] : [`start bits: ${read.places.words}`]), ...read.notes],
    questions: read.questions,
    problems: read.problems.map(({ row, column, found, expected }) => {
      const at = read.columns.find((c) => c.header === column)?.at;
      const words = column === '' ? '' : `, column ${at === undefined ? '' : `${letters(at)} `}"${column}"`;
      return { place: row === 0 ? 'the table' : placeOf(row, words), found, expected };
    }),
  };
}

function columnWordsOf({ columns }: TableRead): string[] {
  if (columns.length > 0 && columns.every((c) => c.header === COLUMNS[c.meaning]))
    return [`${columns.length} columns, named as in our own tables`];
  return columns.map(
    ({ meaning, at, header, confidence }) =>
      `${meaning === 'start' ? 'start bit' : COLUMNS[meaning]}: column ${letters(at)} "${header}" (${Math.round(100 * confidence)} %)`,
  );
}

function fromAutosar(
  path: string,
  bytes: Uint8Array,
  bus: string,
  wanted: string | undefined,
): Pick<DefinitionsRead, 'dictionary' | 'notes' | 'problems'> {
  let text: string;
  try {
    text = new TextDecoder('utf-8', { fatal: true }).decode(bytes);
  } catch {
    throw new DefinitionsError(
      `${path}: it holds bytes that are not UTF-8; an AUTOSAR file saved as UTF-8 would be right`,
    );
  }
  const { dictionaries, leftOut, problems } = readAutosar(text);
  const placed = problems.map(({ line, element, found, expected }) => ({
    place: `line ${line}${element === '' ? '' : ` (${element})`}`,
    found,
    expected,
  }));
  const first = placed[0];
  if (dictionaries.length === 0 && first !== undefined)
    throw new DefinitionsError(`${path}: ${first.place}: found ${first.found}; expected ${first.expected}`);
  const chosen = chooseBus(path, dictionaries, wanted ?? bus, wanted !== undefined);
  const others = dictionaries.filter((d) => d !== chosen);
  const notes = [
    `bus ${chosen.bus} of the file`,
    ...(others.length > 0 ? [`buses left out: ${others.map((d) => d.bus).join(', ')}`] : []),
    ...leftOut.map((what) => `not held: ${what}`),
  ];
  return { dictionary: { ...chosen, bus }, notes, problems: placed };
}

function chooseBus(
  path: string,
  dictionaries: readonly Dictionary[],
  wanted: string,
  stated: boolean,
): Dictionary {
  const named =
    dictionaries.find((d) => d.bus === wanted) ??
    dictionaries.find((d) => d.bus.toLowerCase() === wanted.toLowerCase());
  if (named !== undefined) return named;
  if (dictionaries.length === 1 && !stated) return dictionaries[0] as Dictionary;
  throw new DefinitionsError(
    `${path}: it has no bus "${wanted}"; name one of its own with --file-bus: ${dictionaries.map((d) => d.bus).join(', ')}`,
  );
}

function fromYaml(
  path: string,
  bytes: Uint8Array,
  bus: string,
): Pick<DefinitionsRead, 'dictionary' | 'notes' | 'problems'> {
  const name = basename(path);
  const { parsed, problems } = parseYaml(name, bytes);
  const { schema, form } = FILE_KINDS.dictionary;
  const checked =
    parsed === null || problems.length > 0 ? { value: null, problems } : checkFields(parsed, schema, form);
  const said = checked.problems.map((p) => ({
    place: `line ${p.line}${p.field === '' ? '' : ` (${p.field})`}`,
    found: p.found,
    expected: p.expected,
  }));
  if (checked.value === null) {
    const words = said.map((p) => `${p.place}: found ${p.found}; expected ${p.expected}`).join('\n  ');
    throw new DefinitionsError(`${path}: ${words}`);
  }
  const dictionary = camelKeys(checked.value);
  const against = dictionaryProblems(dictionary);
  if (against.length > 0) {
    const words = against
      .map((p) => `${fieldText(p.path)}: found ${p.found}; expected ${p.expected}`)
      .join('\n  ');
    throw new DefinitionsError(`${path}: ${words}`);
  }
  const notes = dictionary.bus === bus ? [] : [`bus ${dictionary.bus} of the file`];
  return { dictionary: { ...dictionary, bus }, notes, problems: [] };
}

/** Text of a table: UTF-8, UTF-16 with its mark, else the code page that spreadsheets fall back to. */
function decoded(bytes: Uint8Array): { text: string; note: string[] } {
  if (bytes[0] === 0xff && bytes[1] === 0xfe)
    return { text: new TextDecoder('utf-16le').decode(bytes), note: ['text in UTF-16'] };
  try {
    return { text: new TextDecoder('utf-8', { fatal: true }).decode(bytes), note: [] };
  } catch {
    return {
      text: new TextDecoder('windows-1252').decode(bytes),
      note: ['not UTF-8: read as Windows-1252; look at names and units'],
    };
  }
}
