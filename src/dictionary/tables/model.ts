/** A table of message definitions as it comes out of a file, and what its columns can mean. */

export interface Table {
  /** Texts of the cells; rows may differ in length. */
  rows: string[][];
  /** For each row the number under which a person finds it: line of the text, row of the sheet. 1-based. */
  numbers: number[];
  /** Sign between whole part and fraction; '?' where commas are seen and points are not. */
  decimal: '.' | '?';
}

/** What keeps a row, or part of it, from becoming a definition. */
export interface TableProblem {
  /** Number of the row as the person sees it; 0 where the whole table is meant. */
  row: number;
  /** Header of the column, or '' for the whole row. */
  column: string;
  found: string;
  expected: string;
}

/** Meanings of columns in the order in which they are written, with the header they get. */
export const COLUMNS = {
  bus: 'bus',
  message: 'message',
  id: 'identifier',
  extended: '29-bit',
  messageLength: 'payload bytes',
  period: 'period ms',
  sender: 'sender',
  messageNote: 'message note',
  kind: 'kind',
  name: 'name',
  start: 'start bit (AUTOSAR)',
  startByte: 'start byte',
  length: 'bits',
  order: 'byte order',
  signed: 'signed',
  scale: 'scale',
  offset: 'offset',
  unit: 'unit',
  min: 'min',
  max: 'max',
  values: 'values',
  selectorValue: 'selector value',
  state: 'state',
  note: 'note',
  step: 'step',
  skip: 'skipped values',
  algorithm: 'check algorithm',
  width: 'check width',
  poly: 'polynomial',
  init: 'check init',
  xorout: 'check xorout',
  reflected: 'reflected',
  covers: 'covered bytes',
  prefix: 'prefix bytes',
  suffix: 'suffix bytes',
  idBytes: 'identifier bytes',
  perCounter: 'constants by counter',
  evidence: 'evidence',
} as const;

export type Meaning = keyof typeof COLUMNS;

/** How one column was understood. */
export interface ColumnGuess {
  meaning: Meaning;
  /** Index of the column, 0-based. */
  at: number;
  header: string;
  /** 1 where the header is one that this table form itself uses or a person named it. */
  confidence: number;
}
