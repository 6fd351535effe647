/**
 * Tables of message definitions, of text and of spreadsheets: rows of any column names to a dictionary, and back.
 * Pure; `build/` reads and writes the files.
 */
export { columnWords } from './columns.ts';
export { MOST_CELLS, MOST_COLUMNS, readCsv, writeCsv } from './csv.ts';
export * from './model.ts';
export { CONVENTIONS, type Convention } from './places.ts';
export { readTable, type TableOptions, type TableRead } from './read.ts';
export { type CellValue, numberText, tableOf, textRows } from './write.ts';
