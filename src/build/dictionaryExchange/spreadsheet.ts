/**
 * Spreadsheet files (.xlsx, Office Open XML, ECMA-376 parts 1 and 2) as tables, and back: the zip by fflate, the few elements
 * of a sheet that hold text and numbers by ourselves, so that a cell keeps its address and a file from anywhere keeps to limits.
 * Formulas are not computed (their stored result counts), macros and links are not looked at.
 */
import { strToU8, Unzip, UnzipInflate, zipSync } from 'fflate';
import type { CellValue, Table } from '../../dictionary/tables/index.ts';
import { MOST_CELLS, MOST_COLUMNS, numberText } from '../../dictionary/tables/index.ts';
import { child, type Element, escaped, everyElement, readXml } from '../../dictionary/xml.ts';

/** A file that is no spreadsheet which can be read; one sentence: what, where, what would be right. */
export class SpreadsheetError extends Error {
  override name = 'SpreadsheetError';
}

/** Packed and unpacked size; far above any table of signals, far below what hurts. */
const MOST_FILE_BYTES = 16 * 2 ** 20;
const MOST_PART_BYTES = 64 * 2 ** 20;
const MOST_PARTS = 2_000;

export interface SheetRead {
  table: Table;
  /** Name of the sheet that was read. */
  sheet: string;
  /** Names of all sheets. */
  sheets: string[];
  notes: string[];
}

/** `wanted`: name of the sheet, default the first. Throws `SpreadsheetError`. */
export function readSpreadsheet(bytes: Uint8Array, wanted?: string): SheetRead {
  const parts = unpack(bytes);
  const workbook = part(parts, 'xl/workbook.xml');
  if (workbook === null)
    throw new SpreadsheetError('it holds no workbook; a spreadsheet saved as .xlsx would be right');
  const sheets = [...everyElement(workbook)].filter((e) => e.name === 'sheet');
  const names = sheets.map((sheet) => sheet.attributes['name'] ?? '');
  const at = wanted === undefined ? 0 : names.indexOf(wanted);
  const sheet = sheets[at];
  if (sheet === undefined)
    throw new SpreadsheetError(
      `it has no sheet "${wanted ?? ''}"; it has ${names.map((n) => `"${n}"`).join(', ') || 'none'}`,
    );
  const target = targetOf(part(parts, 'xl/_rels/workbook.xml.rels'), sheet.attributes['r:id'] ?? '');
  const body = part(parts, target);
  if (body === null)
    throw new SpreadsheetError(`the sheet "${names[at]}" is missing in the file (${target})`);
  const notes: string[] = [];
  if (names.length > 1) notes.push(`sheets left out: ${names.filter((_, i) => i !== at).join(', ')}`);
  if (parts.has('xl/vbaProject.bin')) notes.push('macros are not looked at');
  const strings = sharedStrings(part(parts, 'xl/sharedStrings.xml'));
  return { table: tableOf(body, strings, notes), sheet: names[at] as string, sheets: names, notes };
}

/** One sheet; text stays text, so that nothing in it is taken for a formula. */
export function writeSpreadsheet(rows: readonly (readonly CellValue[])[], sheet: string): Uint8Array {
  const widths = (rows[0] ?? []).map((_, c) =>
    Math.min(40, Math.max(6, ...rows.slice(0, 200).map((row) => String(row[c] ?? '').length + 1))),
  );
  const data = rows
    .map((row, r) => `<row r="${r + 1}">${row.map((value, c) => cellXml(value, r, c)).join('')}</row>`)
    .join('');
  const columns = widths
    .map((w, c) => `<col min="${c + 1}" max="${c + 1}" width="${w}" customWidth="1"/>`)
    .join('');
  // Excel refuses other signs and more than 31 characters in the name of a sheet.
  const name =
    sheet
      .replace(/[\\/?*[\]:'\p{Cc}]/gu, ' ')
      .slice(0, 31)
      .trim() || 'dictionary';
  const files: Record<string, string> = {
    '[Content_Types].xml': `<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/><Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/><Override PartName="/xl/worksheets/sheet1.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/></Types>`,
    '_rels/.rels': `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="${RELATION}/officeDocument" Target="xl/workbook.xml"/></Relationships>`,
    'xl/workbook.xml': `<workbook xmlns="${MAIN}" xmlns:r="${RELATION}"><sheets><sheet name="${escaped(name)}" sheetId="1" r:id="rId1"/></sheets></workbook>`,
    'xl/_rels/workbook.xml.rels': `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="${RELATION}/worksheet" Target="worksheets/sheet1.xml"/></Relationships>`,
    'xl/worksheets/sheet1.xml': `<worksheet xmlns="${MAIN}"><sheetViews><sheetView workbookViewId="0"><pane ySplit="1" topLeftCell="A2" activePane="bottomLeft" state="frozen"/></sheetView></sheetViews>${columns === '' ? '' : `<cols>${columns}</cols>`}<sheetData>${data}</sheetData></worksheet>`,
  };
  // A fixed date, so that the same dictionary gives the same bytes.
  const packed = Object.entries(files).map(([path, text]) => [
    path,
    [
      strToU8(`<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n${text}`),
      { mtime: new Date(1980, 0, 1) },
    ],
  ]);
  return zipSync(Object.fromEntries(packed));
}

const MAIN = 'http://schemas.openxmlformats.org/spreadsheetml/2006/main';
const RELATION = 'http://schemas.openxmlformats.org/officeDocument/2006/relationships';

function cellXml(value: CellValue, row: number, column: number): string {
  if (value === undefined || value === '') return '';
  const at = `${letters(column)}${row + 1}`;
  return typeof value === 'number'
    ? `<c r="${at}"><v>${numberText(value)}</v></c>`
    : `<c r="${at}" t="inlineStr"><is><t xml:space="preserve">${escaped(escapedLikeOffice(value))}</t></is></c>`;
}

/** ECMA-376 part 1, 22.9.2.19: _x000D_ stands for a character, so that text that looks so has to be escaped itself. */
function escapedLikeOffice(text: string): string {
  return text.replace(/_(?=x[0-9A-Fa-f]{4}_)/g, '_x005F_');
}

function readLikeOffice(text: string): string {
  return text.replace(/_x([0-9A-Fa-f]{4})_/g, (_, code: string) =>
    String.fromCharCode(Number.parseInt(code, 16)),
  );
}

/** The parts that are needed, unpacked piece by piece under the limits. */
function unpack(bytes: Uint8Array): Map<string, Uint8Array> {
  if (bytes.length > MOST_FILE_BYTES)
    throw new SpreadsheetError(
      `it has ${(bytes.length / 2 ** 20).toFixed(1)} MB; a spreadsheet of at most 16 MB would be right`,
    );
  if (bytes[0] !== 0x50 || bytes[1] !== 0x4b)
    throw new SpreadsheetError(
      bytes[0] === 0xd0 && bytes[1] === 0xcf
        ? 'it is an old .xls file, or one with a password; saved as .xlsx without a password it can be read'
        : 'it is no .xlsx file; a spreadsheet saved as .xlsx would be right',
    );
  const parts = new Map<string, Uint8Array>();
  let [total, count] = [0, 0];
  let open = 0;
  // The library turns what is thrown inside it into a fault of the zip: the first reason is kept.
  let refused: SpreadsheetError | null = null;
  const refuse = (sentence: string): SpreadsheetError => (refused ??= new SpreadsheetError(sentence));
  const unzip = new Unzip((file) => {
    count++;
    if (count > MOST_PARTS)
      throw refuse(`it holds more than ${MOST_PARTS} parts; a plain spreadsheet holds fewer`);
    const name = file.name.replaceAll('\\', '/');
    if (name === 'xl/vbaProject.bin') parts.set(name, new Uint8Array());
    if (
      !/^xl\/(workbook\.xml|_rels\/workbook\.xml\.rels|sharedStrings\.xml|worksheets\/[^/]+\.xml)$/.test(name)
    )
      return;
    const chunks: Uint8Array[] = [];
    open++;
    file.ondata = (error, chunk, final) => {
      if (error !== null)
        throw refuse(`the part ${name} is damaged; open it in the spreadsheet program and save it again`);
      total += chunk.length;
      if (total > MOST_PART_BYTES)
        throw refuse('it unpacks to more than 64 MB; a sheet with only the table would be right');
      chunks.push(chunk.slice());
      if (!final) return;
      open--;
      parts.set(name, Buffer.concat(chunks));
    };
    file.start();
  });
  unzip.register(UnzipInflate);
  try {
    // Small pieces: each is unpacked at once, a thousandfold at most, before the sum is looked at.
    for (let at = 0; at < bytes.length; at += 4096)
      unzip.push(bytes.subarray(at, at + 4096), at + 4096 >= bytes.length);
  } catch (error) {
    if (error instanceof SpreadsheetError) throw error;
    throw refuse('its zip is damaged; open it in the spreadsheet program and save it again');
  }
  if (open > 0) throw refuse('it ends in the middle of a part: the file is not whole');
  return parts;
}

function part(parts: ReadonlyMap<string, Uint8Array>, name: string): Element | null {
  const bytes = parts.get(name);
  if (bytes === undefined) return null;
  const { root, problems } = readXml(new TextDecoder().decode(bytes), 'all attributes');
  const first = problems[0];
  if (first !== undefined)
    throw new SpreadsheetError(
      `the part ${name} is no XML that can be read (line ${first.line}: ${first.found}); expected ${first.expected}`,
    );
  return root;
}

function targetOf(relations: Element | null, id: string): string {
  for (const relation of relations?.children ?? []) {
    if (relation.attributes['Id'] !== id) continue;
    const target = relation.attributes['Target'] ?? '';
    return target.startsWith('/') ? target.slice(1) : `xl/${target}`;
  }
  return 'xl/worksheets/sheet1.xml';
}

function sharedStrings(root: Element | null): string[] {
  return (root?.children ?? []).filter((e) => e.name === 'si').map(richText);
}

/** Text of a string with its runs; phonetic hints left out. */
function richText(item: Element): string {
  const texts = item.children.flatMap((e) =>
    e.name === 't' ? [e.raw] : e.name === 'r' ? [child(e, 't')?.raw ?? ''] : [],
  );
  return readLikeOffice(texts.join(''));
}

function tableOf(sheet: Element, strings: readonly string[], notes: string[]): Table {
  const rows: string[][] = [];
  const numbers: number[] = [];
  let [last, cells, wide] = [0, 0, 0];
  const odd = { formula: 0, error: 0 };
  for (const row of child(sheet, 'sheetData')?.children ?? []) {
    const number = Number(row.attributes['r'] ?? last + 1);
    last = Number.isSafeInteger(number) && number > 0 ? number : last + 1;
    const texts: string[] = [];
    let next = 0;
    for (const cell of row.children) {
      if (cell.name !== 'c') continue;
      const column = columnOf(cell.attributes['r'] ?? '') ?? next;
      next = column + 1;
      const text = cellText(cell, strings, odd);
      if (text === '') continue;
      // One cell far out must not make rows of a million empty ones.
      if (column >= MOST_COLUMNS) {
        wide++;
        continue;
      }
      if (++cells > MOST_CELLS)
        throw new SpreadsheetError(
          `it holds more than ${MOST_CELLS} cells; a sheet with only the table would be right`,
        );
      while (texts.length < column) texts.push('');
      texts[column] = text;
    }
    if (texts.length === 0) continue;
    rows.push(texts);
    numbers.push(last);
  }
  if (wide > 0) notes.push(`${wide} cells beyond column ${letters(MOST_COLUMNS - 1)} left out`);
  if (odd.formula > 0) notes.push(`${odd.formula} cells with formulas: their stored results are taken`);
  if (odd.error > 0) notes.push(`${odd.error} cells hold an error of the spreadsheet (#REF! and such)`);
  const points = rows.some((row) => row.some((text) => /^\s*[-+]?\d+\.\d+\s*$/.test(text)));
  return { rows, numbers, decimal: points ? '.' : '?' };
}

function cellText(
  cell: Element,
  strings: readonly string[],
  odd: { formula: number; error: number },
): string {
  if (child(cell, 'f') !== undefined) odd.formula++;
  const value = child(cell, 'v')?.raw ?? '';
  switch (cell.attributes['t']) {
    case 's':
      return strings[Number(value)] ?? '';
    case 'inlineStr': {
      const inline = child(cell, 'is');
      return inline === undefined ? '' : richText(inline);
    }
    case 'b':
      return value === '1' ? 'yes' : 'no';
    case 'e':
      odd.error++;
      return value;
    case 'str':
      return readLikeOffice(value);
    default:
      return value.trim();
  }
}

/** "AB12" → 27; null where there is no letter. */
function columnOf(address: string): number | null {
  const word = /^([A-Z]{1,7})\d*$/.exec(address)?.[1];
  return word === undefined ? null : [...word].reduce((n, c) => 26 * n + c.charCodeAt(0) - 64, 0) - 1;
}

export function letters(column: number): string {
  let text = '';
  for (let n = column + 1; n > 0; n = Math.floor((n - 1) / 26))
    text = String.fromCharCode(65 + ((n - 1) % 26)) + text;
  return text;
}
