/** Which finding of a message is meant, and what the dictionary says of it today. */
import { formatId } from '../can/frame.ts';
import type { Dictionary, Message } from '../dictionary/model.ts';
import type { FoundCheck, FoundCounter, FoundMessage, FoundSignal } from '../findings/model.ts';

/** The finding cannot be taken in; the message is one sentence and the dictionary is unchanged. */
export class AcceptError extends Error {
  override name = 'AcceptError';
}

export interface FindingTarget {
  field: 'signal' | 'counter' | 'check' | 'selector';
  start: number;
  length: number;
  /** Of a signal behind a selector; otherwise null. */
  selectorValue: number | null;
}

export type FindingState = 'open' | 'proposed' | 'accepted' | 'rejected';

export type Targeted =
  | { field: 'signal'; finding: FoundSignal }
  | { field: 'counter'; finding: FoundCounter }
  | { field: 'check'; finding: FoundCheck }
  | { field: 'selector'; finding: NonNullable<FoundMessage['selector']> };

/** The finding itself. Throws `AcceptError` where the capture has none there. */
export function targeted(found: FoundMessage, target: FindingTarget): Targeted {
  const { field } = target;
  if (field === 'signal') {
    const finding = found.signals.find((s) => isAt(s, target) && s.selectorValue === target.selectorValue);
    if (finding !== undefined) return { field, finding };
  } else {
    const finding = found[field];
    if (finding !== null && isAt(finding, target)) return { field, finding } as Targeted;
  }
  throw new AcceptError(`${targetWords(found, target)} was not found in this capture`);
}

/** What a dictionary says of a finding; `open` where it says nothing. */
export function findingState(
  dictionary: Dictionary | null | undefined,
  message: { id: number; extended: boolean },
  target: FindingTarget,
): FindingState {
  return stateIn(
    dictionary?.messages.find((m) => m.id === message.id && m.extended === message.extended),
    target,
  );
}

export function stateIn(message: Message | undefined, target: FindingTarget): FindingState {
  if (message === undefined) return 'open';
  const signal = message.signals[signalIndex(message, target)];
  if (target.field === 'signal') return signal?.state ?? 'open';
  const field = message[target.field];
  if (field !== undefined && isAt(field, target)) return 'accepted';
  return signal?.state === 'rejected' ? 'rejected' : 'open';
}

/** Index of the signal that stands at the target, −1 where there is none. */
export function signalIndex(message: Message | undefined, target: Omit<FindingTarget, 'field'>): number {
  return (message?.signals ?? []).findIndex(
    (s) => isAt(s, target) && (s.selectorValue ?? null) === target.selectorValue,
  );
}

/** Name under which a finding is rejected that nobody had named. */
export function rejectedName({ start, length }: { start: number; length: number }): string {
  return `rejected_${start}_${length}`;
}

export function isMadeUp(name: string): boolean {
  return /^rejected_\d+_\d+(_\d+)?$/.test(name);
}

export function targetWords(found: FoundMessage, target: FindingTarget): string {
  const what = `the ${target.field} at bit ${target.start}, ${target.length} long,`;
  const behind = target.selectorValue === null ? '' : ` behind selector value ${target.selectorValue}`;
  return `${what}${behind} of message ${formatId(found.id, found.extended)}`;
}

function isAt(field: { start: number; length: number }, target: { start: number; length: number }): boolean {
  return field.start === target.start && field.length === target.length;
}
