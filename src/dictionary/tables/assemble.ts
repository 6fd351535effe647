/** Drafts of messages as a dictionary: held against the schema and against each other, misfits told with their rows. */
import { formatId } from '../../can/frame.ts';
import { camelKeys } from '../case.ts';
import type { Dictionary, Message, Signal } from '../model.ts';
import { dictionaryProblems } from '../problems.ts';
import { messageSchema } from '../schema.ts';
import type { Meaning, TableProblem } from './model.ts';
import { autosarStart, type Convention } from './places.ts';
import type { Draft } from './read.ts';
import type { Row } from './row.ts';

export interface RowsOf {
  message: Row;
  signals: Row[];
  kinds: Partial<Record<'counter' | 'check' | 'selector', Row>>;
}

export function assembled(
  drafts: ReadonlyMap<number, Draft>,
  convention: Convention,
  problems: TableProblem[],
): { messages: Message[]; rowOf: Map<Message, RowsOf> } {
  const messages: Message[] = [];
  const rowOf = new Map<Message, RowsOf>();
  for (const draft of drafts.values()) {
    const rows: RowsOf = { message: draft.row, signals: [], kinds: {} };
    const entry: Record<string, unknown> = {
      name: draft.name ?? `message_${formatId(draft.id, draft.extended)}`,
      id: draft.id,
      extended: draft.extended,
      length: draft.length,
      period_ms: draft.period,
      ...(draft.sender !== undefined && { sender: draft.sender }),
      ...(draft.note !== undefined && { note: draft.note }),
    };
    const signals: unknown[] = [];
    for (const { given, row } of draft.fields) {
      const start = autosarStart(given.place, convention);
      if (start === null || start > 511) {
        row.wrong('start', `a start bit within the payload, numbered as "${convention}"`);
        continue;
      }
      const field = { start, length: given.place.length, byte_order: given.place.byteOrder };
      if (given.kind === 'signal') {
        signals.push({ name: given.name, ...field, ...given.rest });
        rows.signals.push(row);
      } else if (entry[given.kind] !== undefined) row.wrong('kind', `one ${given.kind} a message`);
      else {
        entry[given.kind] = { ...field, ...given.rest };
        rows.kinds[given.kind] = row;
      }
    }
    const message = shaped({ ...entry, signals }, rows, problems);
    if (message === null) continue;
    messages.push(message);
    rowOf.set(message, rows);
  }
  return { messages, rowOf };
}

/** Holds the entry against the schema; fields that it refuses are told and left out. */
function shaped(entry: Record<string, unknown>, rows: RowsOf, problems: TableProblem[]): Message | null {
  for (;;) {
    const result = messageSchema.safeParse(entry);
    if (result.success) return camelKeys(result.data);
    const issue = result.error.issues[0];
    const [field, index] = issue?.path ?? [];
    const told = (row: Row, what: PropertyKey | undefined) =>
      problems.push({
        row: row.number,
        column: '',
        found: `a field that no dictionary can hold (${String(what ?? 'whole')})`,
        expected: issue?.message ?? 'another value',
      });
    if (field === 'signals' && typeof index === 'number') {
      told(rows.signals[index] as Row, issue?.path[2]);
      (entry['signals'] as unknown[]).splice(index, 1);
      rows.signals.splice(index, 1);
    } else if ((field === 'counter' || field === 'check' || field === 'selector') && rows.kinds[field]) {
      told(rows.kinds[field] as Row, index);
      delete entry[field];
    } else {
      told(rows.message, field);
      return null;
    }
  }
}

/** Takes out what contradicts itself, telling each with its row, until nothing does. */
export function withoutProblems(
  dictionary: Dictionary,
  rowOf: ReadonlyMap<Message, RowsOf>,
  problems: TableProblem[],
): Dictionary {
  for (;;) {
    const found = dictionaryProblems(dictionary);
    if (found.length === 0) return dictionary;
    const goneSignals = new Set<Signal>();
    const goneMessages = new Set<Message>();
    const goneKinds: [Message, 'counter' | 'check' | 'selector'][] = [];
    for (const problem of found) {
      const [, m, field, s] = problem.path;
      const message = dictionary.messages[m as number] as Message;
      const rows = rowOf.get(message) as RowsOf;
      const told = (row: Row | undefined, name: unknown) =>
        problems.push({
          row: row?.number ?? 0,
          column: columnOf(name, row),
          found: problem.found,
          expected: problem.expected,
        });
      if (field === 'signals') {
        told(rows.signals[s as number], problem.path[4]);
        goneSignals.add(message.signals[s as number] as Signal);
      } else if (field === 'counter' || field === 'check' || field === 'selector') {
        told(rows.kinds[field], problem.path[3]);
        goneKinds.push([message, field]);
      } else {
        told(rows.message, field);
        goneMessages.add(message);
      }
    }
    for (const [message, kind] of goneKinds) delete message[kind];
    for (const message of dictionary.messages) {
      const rows = rowOf.get(message) as RowsOf;
      rows.signals = rows.signals.filter((_, i) => !goneSignals.has(message.signals[i] as Signal));
      message.signals = message.signals.filter((signal) => !goneSignals.has(signal));
    }
    dictionary = { ...dictionary, messages: dictionary.messages.filter((m) => !goneMessages.has(m)) };
  }
}

const COLUMN_OF: Record<string, Meaning> = {
  selector_value: 'selectorValue',
  id_bytes: 'idBytes',
  per_counter: 'perCounter',
  byte_order: 'order',
};

function columnOf(name: unknown, row: Row | undefined): string {
  const meaning = COLUMN_OF[String(name)] ?? (String(name) as Meaning);
  return row?.at.get(meaning)?.header ?? '';
}
