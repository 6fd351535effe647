/** Takes a finding into a dictionary, its evidence beside it, or keeps it there as rejected so that it is not proposed again. */

import { camelKeys, snakeKeys } from '../dictionary/case.ts';
import type { Dictionary, Message } from '../dictionary/model.ts';
import { dictionaryProblems } from '../dictionary/problems.ts';
import type { FoundMessage, FoundSignal } from '../findings/model.ts';
import { readText } from './disk.ts';
import { type Edit, editYaml } from './edit.ts';
import {
  type Correction,
  checkEntry,
  counterEntry,
  evidenceEntries,
  messageEntry,
  rejectedEntry,
  selectorEntry,
  signalEntry,
} from './entries.ts';
import { checkFields } from './fields.ts';
import { FILE_KINDS } from './files.ts';
import {
  AcceptError,
  type FindingTarget,
  signalIndex,
  stateIn,
  targeted,
  targetWords,
} from './findingTarget.ts';
import { problemSentence } from './problem.ts';
import { contentHash, type SaveOptions, saveText } from './save.ts';
import { parseYaml } from './yamlFile.ts';

export interface Acceptance extends Correction {
  /** File name of the capture that the finding was worked out from. */
  capture: string;
  /** Name of the signal; needed to accept one. */
  name?: string | undefined;
  /** Name of the message where the dictionary does not have it yet; default "message_<id>". */
  messageName?: string | undefined;
}

type Path = (string | number)[];

/** Writes `dictionary/<bus>.yaml`. Throws `AcceptError`, `SaveError` or `LockError`. */
export async function acceptFinding(
  folder: string,
  bus: string,
  found: FoundMessage,
  target: FindingTarget,
  acceptance: Acceptance,
  options: SaveOptions = {},
): Promise<void> {
  const it = targeted(found, target);
  const entry = messageEntry(found, acceptance.messageName);
  await change(folder, bus, found, entry, options, (message, at) => {
    if (stateIn(message, target) === 'accepted')
      throw new AcceptError(`${targetWords(found, target)} is accepted already`);
    const { capture } = acceptance;
    switch (it.field) {
      case 'signal':
        return acceptSignal(message, at, it.finding, target, acceptance);
      case 'counter':
        return [{ do: 'set', path: [...at, it.field], value: counterEntry(capture, it.finding, acceptance) }];
      case 'check':
        return [{ do: 'set', path: [...at, it.field], value: checkEntry(capture, it.finding, acceptance) }];
      case 'selector':
        return [{ do: 'set', path: [...at, it.field], value: selectorEntry(it.finding) }];
    }
  });
}

/** Keeps the finding as a signal with `state: rejected` and the reason as its note. Throws as `acceptFinding` does. */
export async function rejectFinding(
  folder: string,
  bus: string,
  found: FoundMessage,
  target: FindingTarget,
  rejection: { capture: string; reason?: string | undefined },
  options: SaveOptions = {},
): Promise<void> {
  const it = targeted(found, target);
  const what = target.field === 'signal' ? '' : `proposed as ${target.field}`;
  const note = [what, rejection.reason?.trim()].filter(Boolean).join(': ');
  await change(folder, bus, found, messageEntry(found, undefined), options, (message, at) => {
    const state = stateIn(message, target);
    if (state === 'rejected') throw new AcceptError(`${targetWords(found, target)} is rejected already`);
    if (state === 'accepted' && target.field !== 'signal')
      throw new AcceptError(
        `${targetWords(found, target)} is accepted: take it out of dictionary/${bus}.yaml first`,
      );
    const index = signalIndex(message, target);
    if (index >= 0) {
      const path = [...at, 'signals', index];
      const edits: Edit[] = [{ do: 'set', path: [...path, 'state'], value: 'rejected' }];
      if (note !== '') edits.push({ do: 'set', path: [...path, 'note'], value: note });
      return edits;
    }
    const name = freeName(message, `rejected_${target.start}_${target.length}`);
    const value = rejectedEntry(rejection.capture, it, name, note);
    return [{ do: 'append', path: [...at, 'signals'], value }];
  });
}

/** Reads the dictionary, adds the message where it is missing, applies the edits and saves if nothing contradicts. */
async function change(
  folder: string,
  bus: string,
  found: FoundMessage,
  entry: { name: string },
  options: SaveOptions,
  edits: (message: Message | undefined, at: Path) => Edit[],
): Promise<void> {
  const file = `dictionary/${bus}.yaml`;
  const read = await readText(folder, file);
  if (read.kind === 'problem') throw new AcceptError(problemSentence(read.problem));
  const bytes =
    read.kind === 'read' ? read.bytes : Buffer.from(`form: dictionary/1\nbus: ${bus}\nmessages: []\n`);
  const before = understood(file, bytes);
  const known = before.messages.findIndex((m) => m.id === found.id && m.extended === found.extended);
  if (known < 0 && before.messages.some((m) => m.name === entry.name))
    throw new AcceptError(`a message "${entry.name}" is in the dictionary already: choose another name`);
  const add: Edit[] = known < 0 ? [{ do: 'append', path: ['messages'], value: entry }] : [];
  const at = ['messages', known < 0 ? before.messages.length : known];
  const text = new TextDecoder('utf-8', { ignoreBOM: true }).decode(bytes);
  const after = editYaml(text, [...add, ...edits(before.messages[known], at)]);
  const old = new Set(dictionaryProblems(before).map((p) => JSON.stringify(p)));
  const fresh = dictionaryProblems(understood(file, Buffer.from(after))).find(
    (p) => !old.has(JSON.stringify(p)),
  );
  if (fresh !== undefined)
    throw new AcceptError(
      `it does not fit into ${file}: found ${fresh.found}; expected ${fresh.expected}; nothing was saved`,
    );
  await saveText(folder, file, after, read.kind === 'read' ? contentHash(bytes) : null, options);
}

function understood(file: string, bytes: Uint8Array): Dictionary {
  const { parsed, problems } = parseYaml(file, bytes);
  const { schema, form } = FILE_KINDS.dictionary;
  const checked =
    parsed === null || problems.length > 0 ? { value: null, problems } : checkFields(parsed, schema, form);
  if (checked.value !== null) return camelKeys(checked.value);
  const first = checked.problems[0];
  throw new AcceptError(`mend the dictionary first: ${first === undefined ? file : problemSentence(first)}`);
}

function acceptSignal(
  message: Message | undefined,
  at: Path,
  signal: FoundSignal,
  target: FindingTarget,
  acceptance: Acceptance,
): Edit[] {
  const name = acceptance.name?.trim();
  if (!name)
    throw new AcceptError(
      'a signal needs a name to be accepted: what it measures, for example "steering angle"',
    );
  if (!['number', 'flag', 'enum'].includes(signal.kind))
    throw new AcceptError(`this is a ${signal.kind}: only a number, a flag or an enum becomes a signal`);
  const index = signalIndex(message, target);
  const taken = message?.signals.findIndex((s) => s.name === name) ?? -1;
  if (taken >= 0 && taken !== index)
    throw new AcceptError(`a signal "${name}" is in this message already: choose another name`);
  const value = signalEntry(acceptance.capture, signal, name, acceptance);
  if (index < 0) return [{ do: 'append', path: [...at, 'signals'], value }];
  const path = [...at, 'signals', index];
  const { evidence: _, ...fields } = value as Record<string, unknown>;
  const old = snakeKeys(message?.signals[index]) as Record<string, unknown>;
  const set = { signed: false, scale: 1, offset: 0, unit: '', ...fields, state: 'accepted' };
  return [
    ...Object.entries(set)
      .filter(([field, v]) => old[field] !== v)
      .map(([field, v]): Edit => ({ do: 'set', path: [...path, field], value: v })),
    ...evidenceEntries(acceptance.capture, { field: 'signal', finding: signal }).map(
      (entry): Edit => ({ do: 'append', path: [...path, 'evidence'], value: entry }),
    ),
  ];
}

function freeName(message: Message | undefined, wanted: string): string {
  const names = new Set(message?.signals.map((s) => s.name));
  let name = wanted;
  for (let n = 2; names.has(name); n++) name = `${wanted}_${n}`;
  return name;
}
