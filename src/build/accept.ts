/** Takes a finding into a dictionary, its evidence beside it, or keeps it there as rejected so that it is not proposed again. */

import { snakeKeys } from '../dictionary/case.ts';
import type { Message } from '../dictionary/model.ts';
import type { FoundMessage, FoundSignal } from '../findings/model.ts';
import { changeDictionary, type DictionaryChange, type Path } from './dictionaryChange.ts';
import type { Edit } from './edit.ts';
import {
  type Correction,
  checkEntry,
  counterEntry,
  type MoreEvidence,
  messageEntry,
  rejectedEntry,
  selectorEntry,
  signalEntry,
} from './entries.ts';
import {
  AcceptError,
  type FindingTarget,
  rejectedName,
  signalIndex,
  stateIn,
  targeted,
  targetWords,
} from './findingTarget.ts';
import type { SaveOptions } from './save.ts';

export interface Acceptance extends Correction {
  /** File name of the capture that the finding was worked out from. */
  capture: string;
  /** Name of the signal; needed to accept one. */
  name?: string | undefined;
  /** Name of the message where the dictionary does not have it yet; default "message_<id>". */
  messageName?: string | undefined;
  /** What else speaks for a signal: the cue that it followed. */
  more?: readonly MoreEvidence[] | undefined;
}

/** Writes `dictionary/<bus>.yaml`. Throws `AcceptError`, `SaveError` or `LockError`. */
export async function acceptFinding(
  folder: string,
  bus: string,
  found: FoundMessage,
  target: FindingTarget,
  acceptance: Acceptance,
  options: SaveOptions = {},
): Promise<DictionaryChange> {
  const it = targeted(found, target);
  const entry = messageEntry(found, acceptance.messageName);
  return changeDictionary(folder, bus, found, entry, options, (message, at) => {
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
): Promise<DictionaryChange> {
  const it = targeted(found, target);
  const what = target.field === 'signal' ? '' : `proposed as ${target.field}`;
  const note = [what, rejection.reason?.trim()].filter(Boolean).join(': ');
  return changeDictionary(folder, bus, found, messageEntry(found, undefined), options, (message, at) => {
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
    const name = freeName(message, rejectedName(target));
    const value = rejectedEntry(rejection.capture, it, name, note);
    return [{ do: 'append', path: [...at, 'signals'], value }];
  });
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
  const value = signalEntry(acceptance.capture, signal, name, acceptance, acceptance.more);
  if (index < 0) return [{ do: 'append', path: [...at, 'signals'], value }];
  const path = [...at, 'signals', index];
  const { evidence: _, ...fields } = value as Record<string, unknown>;
  const old = snakeKeys(message?.signals[index]) as Record<string, unknown>;
  const set = { signed: false, scale: 1, offset: 0, unit: '', ...fields, state: 'accepted' };
  return [
    ...Object.entries(set)
      .filter(([field, v]) => old[field] !== v)
      .map(([field, v]): Edit => ({ do: 'set', path: [...path, field], value: v })),
    ...(value as { evidence: object[] }).evidence.map(
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
