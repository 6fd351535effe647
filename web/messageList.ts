/** The list of messages in the order and the choice that a person asked for. */
import type { FindingsMessageReply } from '../src/server/api.ts';
import type { Contradictions } from './fields.ts';
import { counted, TIMING } from './words.ts';

export const ORDERS = ['identifier', 'period', 'activity', 'clock', 'open', 'contradicted'] as const;
export type Order = (typeof ORDERS)[number];

/** Messages that have all words of `wanted` in their line, in the order asked for; among equals as before. */
export function listed(
  messages: readonly FindingsMessageReply[],
  contradictions: Contradictions,
  order: Order,
  wanted: string,
): FindingsMessageReply[] {
  const words = wanted.toLowerCase().split(/\s+/).filter(Boolean);
  const chosen = messages.filter((message) => {
    const line = lineOf(message, contradictions).toLowerCase();
    return words.every((word) => line.includes(word));
  });
  if (order === 'identifier') return chosen;
  const key = new Map(chosen.map((message) => [message, keyOf(message, contradictions, order)]));
  return chosen.sort((a, b) => (key.get(a) as number) - (key.get(b) as number));
}

/** Findings that nobody accepted or rejected, of kinds that tell something. */
export function undecided(message: FindingsMessageReply): number {
  return tellingOf(message).filter(({ state }) => state === 'open' || state === 'proposed').length;
}

export function acceptedWords(message: FindingsMessageReply): string {
  const telling = tellingOf(message);
  const accepted = telling.filter(({ state }) => state === 'accepted').length;
  return telling.length === 0 ? '–' : `${accepted} of ${telling.length}`;
}

/** "3 numbers, 2 flags, counter, check". */
export function foundWords({ signals, counter, check, selector }: FindingsMessageReply): string {
  const kinds = (['number', 'enum', 'flag'] as const).flatMap((kind) => {
    const found = signals.filter((signal) => signal.kind === kind).length;
    return found > 0 ? [counted(found, kind)] : [];
  });
  const words = [...kinds, selector && 'selector', counter && 'counter', check && 'check'].filter(Boolean);
  return words.length > 0 ? words.join(', ') : 'nothing that changes';
}

/** "A" of the largest group that is sent from one clock, "B" of the next; "–" where the stamps do not tell. */
export function clockWords({ sender }: FindingsMessageReply): string {
  if (sender.group === null) return '–';
  const letter = String.fromCharCode(65 + ((sender.group - 1) % 26));
  return sender.group > 26 ? `${letter}${Math.ceil(sender.group / 26)}` : letter;
}

export function against(message: FindingsMessageReply, contradictions: Contradictions): Contradictions {
  return contradictions.filter(
    (c) => c.bus === message.busName && c.id === message.id && c.ext === message.ext,
  );
}

function tellingOf({ signals, counter, check, selector }: FindingsMessageReply) {
  return [
    ...signals.filter(({ kind }) => kind !== 'constant' && kind !== 'padding' && kind !== 'selector'),
    ...[counter, check, selector].filter((finding) => finding !== null),
  ];
}

/** Everything about a message that a person may look for. */
function lineOf(message: FindingsMessageReply, contradictions: Contradictions): string {
  const { id, name, bus, busName, timing, signals } = message;
  const isAgainst = against(message, contradictions).length > 0;
  return [
    id,
    name ?? '',
    `bus ${busName ?? bus}`,
    TIMING[timing],
    foundWords(message),
    `clock ${clockWords(message)}`,
    undecided(message) > 0 ? 'open' : '',
    signals.some(({ state }) => state === 'rejected') ? 'rejected' : '',
    signals.some(({ state }) => state === 'accepted') ? 'accepted' : '',
    isAgainst ? 'contradicted' : '',
  ].join(' ');
}

function keyOf(message: FindingsMessageReply, contradictions: Contradictions, order: Order): number {
  switch (order) {
    case 'period':
      return message.periodMs ?? Number.POSITIVE_INFINITY;
    case 'activity':
      return -message.flipRate.reduce((sum, rate) => sum + rate, 0);
    case 'clock':
      return message.sender.group ?? Number.POSITIVE_INFINITY;
    case 'open':
      return -undecided(message);
    case 'contradicted':
      return -against(message, contradictions).length;
    case 'identifier':
      return 0;
  }
}
