/** A dictionary as a table, one row a field: what `readTable` reads back to the same dictionary. */
import { formatId } from '../../can/frame.ts';
import { snakeKeys } from '../case.ts';
import type { Check, Counter, Dictionary, Message, Signal } from '../model.ts';
import { textCell } from './cells.ts';
import { COLUMNS, type Meaning } from './model.ts';

export type CellValue = string | number | undefined;
type Cells = Partial<Record<Meaning, CellValue>>;

/** Rows under their header. Columns that no row fills are left out, but for those that every table has. */
export function tableOf(dictionaries: readonly Dictionary[]): CellValue[][] {
  const rows = dictionaries.flatMap((dictionary) =>
    dictionary.messages.flatMap((message) => rowsOf(dictionary.bus, message)),
  );
  const always: Meaning[] = ['message', 'id', 'messageLength', 'kind', 'name', 'start', 'length', 'order'];
  const used = (Object.keys(COLUMNS) as Meaning[]).filter(
    (meaning) =>
      always.includes(meaning) || rows.some((row) => row[meaning] !== undefined && row[meaning] !== ''),
  );
  return [used.map((meaning) => COLUMNS[meaning]), ...rows.map((row) => used.map((meaning) => row[meaning]))];
}

/** The same for text: numbers as JavaScript spells them, the shortest that reads back exactly. */
export function textRows(rows: readonly (readonly CellValue[])[]): string[][] {
  return rows.map((row) => row.map((cell) => (typeof cell === 'number' ? numberText(cell) : (cell ?? ''))));
}

/** −0 keeps its sign. */
export function numberText(value: number): string {
  return Object.is(value, -0) ? '-0' : String(value);
}

function rowsOf(bus: string, message: Message): Cells[] {
  const shared: Cells = {
    bus: textCell(bus),
    message: textCell(message.name),
    id: `0x${formatId(message.id, message.extended)}`,
    extended: message.extended ? 'yes' : 'no',
    messageLength: message.length,
    period: message.periodMs ?? undefined,
    sender: textCell(message.sender),
    messageNote: textCell(message.note),
  };
  const fields: Cells[] = [];
  if (message.selector) fields.push({ kind: 'selector', ...place(message.selector) });
  if (message.counter) fields.push(counterCells(message.counter));
  if (message.check) fields.push(checkCells(message.check));
  fields.push(...message.signals.map(signalCells));
  return (fields.length > 0 ? fields : [{ kind: 'message' }]).map((field) => ({ ...shared, ...field }));
}

function place(field: { start: number; length: number; byteOrder: string }): Cells {
  return { start: field.start, length: field.length, order: field.byteOrder };
}

function signalCells(signal: Signal): Cells {
  const { signed, values } = signal;
  return {
    kind: 'signal',
    name: textCell(signal.name),
    ...place(signal),
    signed: signed === 'magnitude' ? signed : signed ? 'signed' : 'unsigned',
    scale: signal.scale,
    offset: signal.offset,
    unit: signal.unit === '' ? undefined : textCell(signal.unit),
    min: signal.min,
    max: signal.max,
    values: values === undefined ? undefined : valuesCell(values),
    selectorValue: signal.selectorValue,
    state: signal.state,
    note: textCell(signal.note),
    evidence: evidenceCell(signal.evidence),
  };
}

function counterCells(counter: Counter): Cells {
  return {
    kind: 'counter',
    ...place(counter),
    step: counter.step,
    skip: counter.skip.join(' '),
    evidence: evidenceCell(counter.evidence),
  };
}

function checkCells(check: Check): Cells {
  return {
    kind: 'check',
    ...place(check),
    algorithm: check.algorithm,
    width: check.width,
    poly: hex(check.poly),
    init: hex(check.init),
    xorout: hex(check.xorout),
    reflected: check.reflected ? 'yes' : 'no',
    covers: check.covers.join(' '),
    prefix: check.prefix.map(hex).join(' '),
    suffix: check.suffix.map(hex).join(' '),
    idBytes: check.idBytes.join(' '),
    perCounter: check.perCounter?.join(' '),
    evidence: evidenceCell(check.evidence),
  };
}

function valuesCell(values: Record<string, string>): string {
  const entries = Object.entries(values);
  // A raw value must come back under the very key it has, so "007" goes the exact way, too.
  const simple =
    entries.length > 0 &&
    entries.every(
      ([raw, name]) =>
        String(Number(raw)) === raw &&
        Number.isSafeInteger(Number(raw)) &&
        name !== '' &&
        textCell(name) === name &&
        !/[;|=:,]/.test(name),
    );
  return simple ? entries.map(([raw, name]) => `${raw}=${name}`).join('; ') : exact(values);
}

function evidenceCell(evidence: Signal['evidence']): string | undefined {
  return evidence === undefined ? undefined : exact(snakeKeys(evidence));
}

/** JSON whose text outlives every file format. */
function exact(data: unknown): string {
  return JSON.stringify(data).replace(
    /[\p{Cc}\ufffe\uffff\ufeff]/gu,
    (c) => `\\u${c.charCodeAt(0).toString(16).padStart(4, '0')}`,
  );
}

function hex(value: number): string {
  return `0x${value.toString(16).toUpperCase().padStart(2, '0')}`;
}
