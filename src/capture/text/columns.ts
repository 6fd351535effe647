/** What the columns of a text recording mean: inferred from a sample, or named by the user in order. */
import { CaptureError } from '../error.ts';

export type TimeUnit = 's' | 'ms' | 'us' | 'ns';

export type Column =
  /** number: 12.345678, also in brackets; clock: 13:59:01.250 from midnight; date: 2024-05-01T13:59:01.25Z, read as UTC. */
  | { kind: 'time'; form: 'number' | 'clock' | 'date'; unit: TimeUnit }
  /** Calendar day alone (2024-05-01); the next clock column adds to it. */
  | { kind: 'day' }
  /** A bus number, or an interface name. */
  | { kind: 'bus' }
  | { kind: 'id'; base: 10 | 16 }
  /** Whether the identifier has 29 bits: 0 or 1, or a word. */
  | { kind: 'ext' }
  /** Number of payload bytes, or the DLC; also in brackets. */
  | { kind: 'length' }
  /** The whole payload in one column: a run of hex digits, or bytes with blanks, dashes, colons or dots between them. */
  | { kind: 'data'; base: 10 | 16 }
  /** Payload bytes, each on its own; `fields` = how many fields they take, 0 = all that follow (or as many as `length` says). */
  | { kind: 'bytes'; base: 10 | 16; fields: number }
  /** Identifier and payload joined: 1A0#00FF; R or R and a length in place of the payload for a remote frame: 1A0#R4. */
  | { kind: 'joined' }
  /** Received or sent: Rx or Tx, in or out. */
  | { kind: 'direction' }
  /** Frame properties as letters, see `FLAG_LETTERS`. */
  | { kind: 'flags' }
  | { kind: 'ignored' };

export interface TextLayout {
  /** Space stands for any run of blanks and tabs. */
  separator: ',' | ';' | '\t' | ' ';
  columns: Column[];
  /** What says that an identifier has 29 bits: its own column, eight digits, or nothing but a value above 0x7FF. */
  extendedBy: 'column' | 'digits' | 'value';
}

/** Letters of the flags column, in the order of the bits of `FLAG` after `extended`. */
export const FLAG_LETTERS = 'RWFBET';

/**
 * Reads a list of columns such as "time,bus,id,ext,data". Names: time, day, bus, id, ext, length, data, bytes, joined,
 * direction, flags, and - for a column to ignore. After a colon: time:s|ms|us|ns|clock|date (default s), id:hex|dec, data:hex|dec, bytes:hex|dec
 * (default hex), bytes4 for four byte columns with something behind them.
 * @throws CaptureError naming the word that is not a column
 */
export function parseColumns(text: string): Column[] {
  const columns = text.split(',').map((word) => columnOf(word.trim(), text));
  const has = (kind: Column['kind']) => columns.some((c) => c.kind === kind);
  if (!has('joined') && !(has('id') && (has('data') || has('bytes')))) {
    throw new CaptureError(
      `columns "${text}" name no frame: give at least id and data (or bytes), or joined, as in "time,bus,id,ext,data".`,
    );
  }
  return columns;
}

/** The words in which `parseColumns` would take these columns. */
export function columnsText(columns: readonly Column[]): string {
  return columns
    .map((column) => {
      switch (column.kind) {
        case 'time':
          return `time:${column.form === 'number' ? column.unit : column.form}`;
        case 'id':
          return `id:${column.base === 16 ? 'hex' : 'dec'}`;
        case 'data':
          return column.base === 16 ? 'data' : 'data:dec';
        case 'bytes':
          return `bytes${column.fields || ''}:${column.base === 16 ? 'hex' : 'dec'}`;
        case 'ignored':
          return '-';
        default:
          return column.kind;
      }
    })
    .join(',');
}

function columnOf(word: string, all: string): Column {
  const match = /^([a-z]+|-)(\d*)(?::([a-z]+))?$/.exec(word.toLowerCase());
  const [, name = '', fields = '', detail = ''] = match ?? [];
  const base = detail === 'dec' ? 10 : 16;
  const baseOk = detail === '' || detail === 'hex' || detail === 'dec';
  if (fields === '' || name === 'bytes') {
    switch (name) {
      case 'time':
        if (detail === 'clock' || detail === 'date') return { kind: 'time', form: detail, unit: 's' };
        if (['', 's', 'ms', 'us', 'ns'].includes(detail)) {
          return { kind: 'time', form: 'number', unit: (detail || 's') as TimeUnit };
        }
        break;
      case 'id':
      case 'data':
        if (baseOk) return { kind: name, base };
        break;
      case 'bytes':
        if (baseOk && Number(fields) <= 64) return { kind: 'bytes', base, fields: Number(fields) };
        break;
      case '-':
        return { kind: 'ignored' };
      case 'day':
      case 'bus':
      case 'ext':
      case 'length':
      case 'joined':
      case 'direction':
      case 'flags':
        if (detail === '') return { kind: name };
        break;
    }
  }
  throw new CaptureError(
    `columns "${all}": "${word}" is not a column; known are time (:s :ms :us :ns :clock :date), day, bus, id (:hex :dec), ext, length, data (:hex :dec), bytes (:hex :dec), joined, direction, flags and - (ignored).`,
  );
}
