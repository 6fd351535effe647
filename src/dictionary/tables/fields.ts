/** One row of a table as a signal, counter, check field or selector, in the spelling of dictionary files. */
import type { z } from 'zod';
import { evidenceSchema } from '../schema.ts';
import { json, listIn, numberIn, orderIn, signedIn, valuesIn, wholeIn, yesIn } from './cells.ts';
import type { Meaning, Table } from './model.ts';
import type { GivenPlace } from './places.ts';
import type { Row } from './row.ts';

export type Given =
  | { kind: 'signal'; name: string; selectorValue: number | undefined; place: GivenPlace; rest: object }
  | { kind: 'counter' | 'check' | 'selector'; place: GivenPlace; rest: object };

const KINDS = ['signal', 'counter', 'check', 'selector', 'message'] as const;
const STATES = ['proposed', 'accepted', 'rejected'];
const ALGORITHMS = ['crc', 'xor', 'sum', 'sumComplement', 'nibbleSum'];

/** null where the row cannot be used (and that was told); 'none' where it describes the message alone. */
export function readField(
  row: Row,
  order: 'little' | 'big' | null,
  decimal: Table['decimal'],
): Given | 'none' | null {
  const before = row.problems.length;
  const word = row.text('kind')?.toLowerCase();
  const kind = KINDS.find((k) => k === word) ?? 'signal';
  if (kind === 'message') return 'none';
  if (row.blank('name') && kind === 'signal') {
    if (row.blank('start') && row.blank('startByte') && row.blank('length')) return 'none';
    return row.wrong('name', 'a name for the signal');
  }
  const cells = new Cells(row, decimal);
  const place = readPlace(row, order);
  let rest: Record<string, unknown>;
  switch (kind) {
    case 'signal':
      rest = {
        signed: cells.get('signed', signedIn, 'signed, unsigned or magnitude') ?? false,
        ...cells.number('scale'),
        ...cells.number('offset'),
        ...cells.text('unit'),
        ...cells.number('min'),
        ...cells.number('max'),
        ...cells.as('values', 'values', valuesIn, 'names by raw value, each value once: 0=off; 1=ready'),
        ...cells.as(
          'selector_value',
          'selectorValue',
          wholeIn,
          'a whole number, the raw value of the selector',
        ),
        ...cells.as('state', 'state', (t) => (STATES.includes(t) ? t : null), STATES.join(', ')),
        ...cells.text('note'),
        ...cells.evidence(),
      };
      break;
    case 'counter':
      rest = {
        ...cells.as('step', 'step', wholeIn, 'a whole number'),
        ...cells.as('skip', 'skip', (t) => listIn(t), 'whole numbers apart by spaces'),
        ...cells.evidence(),
      };
      break;
    case 'check':
      rest = {
        ...cells.as(
          'algorithm',
          'algorithm',
          (t) => (ALGORITHMS.includes(t) ? t : null),
          ALGORITHMS.join(', '),
        ),
        ...cells.as('width', 'width', wholeIn, 'a number of bits'),
        ...cells.as('poly', 'poly', wholeIn, 'a polynomial such as 0x1D'),
        ...cells.as('init', 'init', wholeIn, 'a number such as 0xFF'),
        ...cells.as('xorout', 'xorout', wholeIn, 'a number such as 0xFF'),
        ...cells.as('reflected', 'reflected', yesIn, 'yes or no'),
        ...cells.as('covers', 'covers', (t) => listIn(t), 'payload bytes from 0, apart by spaces'),
        ...cells.as('prefix', 'prefix', (t) => listIn(t, 'hex'), 'bytes in hexadecimal, apart by spaces'),
        ...cells.as('suffix', 'suffix', (t) => listIn(t, 'hex'), 'bytes in hexadecimal, apart by spaces'),
        ...cells.as('id_bytes', 'idBytes', (t) => listIn(t), 'bytes of the identifier, 0 the lowest'),
        ...cells.as(
          'per_counter',
          'perCounter',
          (t) => listIn(t),
          'one number a counter value, apart by spaces',
        ),
        ...cells.evidence(),
      };
      break;
    case 'selector':
      rest = {};
  }
  if (place === null || row.problems.length > before) return null;
  if (kind !== 'signal') return { kind, place, rest };
  const selectorValue = rest['selector_value'] as number | undefined;
  return { kind, name: row.text('name') as string, selectorValue, place, rest };
}

function readPlace(row: Row, order: 'little' | 'big' | null): GivenPlace | null {
  const lengthCell = wholeIn(row.cell('length'));
  const length =
    lengthCell !== null && lengthCell >= 1 && lengthCell <= 64
      ? lengthCell
      : row.wrong('length', '1 to 64 bits');
  // A single bit, or a field whose row says nothing while others do, has no byte order to lose.
  const blankOrder = row.blank('order') && length === 1 ? ('little' as const) : null;
  const byteOrder = order ?? blankOrder ?? orderIn(row.cell('order')) ?? row.wrong('order', 'little or big');
  let byte: number | null = null;
  let bit: number | null;
  const pair = /^(\d{1,2})[.:](\d)$/.exec(row.cell('start').trim());
  if (row.at.has('startByte') && !row.blank('startByte')) {
    byte = wholeIn(row.cell('startByte'));
    if (byte === null || byte < 0 || byte > 64) byte = row.wrong('startByte', 'a byte of the payload');
    bit = row.at.has('start') ? wholeIn(row.cell('start')) : 0;
    if (byte === null) return null;
  } else if (pair !== null && !/^\d+\.0$/.test(row.cell('start').trim())) {
    [byte, bit] = [Number(pair[1]), Number(pair[2])];
  } else if (pair !== null && row.pairs) {
    // "2.0" alone may be a number that a spreadsheet spelled with a point; beside the likes of "2.4" it is byte and bit.
    [byte, bit] = [Number(pair[1]), 0];
  } else bit = wholeIn(row.cell('start'));
  if (bit === null || bit < 0 || bit > 511) {
    row.wrong('start', 'a bit from 0 to 511, or byte.bit');
    return null;
  }
  return length === null || byteOrder === null ? null : { byte, bit, length, byteOrder };
}

/** Reads cells of one row into keys of dictionary files; blank ones give no key, so that defaults hold. */
class Cells {
  readonly #row: Row;
  readonly #decimal: Table['decimal'];

  constructor(row: Row, decimal: Table['decimal']) {
    this.#row = row;
    this.#decimal = decimal;
  }

  get<T>(meaning: Meaning, read: (text: string) => T | null, expected: string): T | undefined {
    if (this.#row.blank(meaning)) return undefined;
    const value = read(this.#row.cell(meaning).trim());
    if (value !== null) return value;
    this.#row.wrong(meaning, expected);
    return undefined;
  }

  as<T>(
    key: string,
    meaning: Meaning,
    read: (text: string) => T | null,
    expected: string,
  ): Record<string, T> {
    const value = this.get(meaning, read, expected);
    return value === undefined ? {} : { [key]: value };
  }

  number(meaning: 'scale' | 'offset' | 'min' | 'max'): Record<string, number> {
    return this.as(meaning, meaning, (text) => numberIn(text, this.#decimal), 'a number, without unit');
  }

  text(meaning: 'unit' | 'note'): Record<string, string> {
    const text = this.#row.text(meaning);
    return text === undefined ? {} : { [meaning]: text };
  }

  /** A JSON list of entries as dictionary files hold them, or plain words, which become one entry. */
  evidence(): { evidence?: z.output<typeof evidenceSchema>[] } {
    const text = this.#row.text('evidence');
    if (text === undefined) return {};
    const data = text.startsWith('[') ? json(text) : null;
    const read = evidenceSchema.array().safeParse(data);
    return { evidence: read.success ? read.data : [{ text }] };
  }
}
