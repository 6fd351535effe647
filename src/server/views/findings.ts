/** Findings of a capture with what the dictionaries say of each, for the Messages sheet. */
import { findingState } from '../../build/findingTarget.ts';
import { formatId } from '../../can/frame.ts';
import type { Dictionary } from '../../dictionary/model.ts';
import type { Findings, FoundCheck, FoundMessage } from '../../findings/model.ts';
import type { FindingKey, FindingsMessageReply, FindingsReply } from '../api.ts';
import { busOf, hex, type Known } from './capture.ts';

export function findingsView(
  capture: { name: string; hash: string },
  findings: Findings,
  form: unknown,
  known: Known,
): FindingsReply {
  return {
    capture: capture.name,
    hash: capture.hash,
    frames: findings.frames,
    seconds: findings.seconds,
    units: findings.senders.units,
    messages: findings.messages.map((message) => messageReply(message, senderOf(findings, message), known)),
    form,
  };
}

/** The clock that the message is sent from; groups are numbered from 1, the largest first. */
function senderOf({ senders }: Findings, message: FoundMessage): FindingsMessageReply['sender'] {
  const { bus, id, extended } = message;
  const at = senders.messages.findIndex((m) => m.bus === bus && m.id === id && m.extended === extended);
  const group = senders.groups.findIndex(({ messages }) => messages.includes(at));
  const { messages, belongs } = senders.groups[group] ?? {};
  if (at < 0 || !messages || !belongs)
    return { group: null, size: 0, probability: null, reason: senders.messages[at]?.reason ?? null };
  const probability = belongs[messages.indexOf(at)] ?? null;
  return { group: group + 1, size: messages.length, probability, reason: null };
}

function messageReply(
  message: FoundMessage,
  sender: FindingsMessageReply['sender'],
  known: Known,
): FindingsMessageReply {
  const { bus, id, extended, counter, check, selector } = message;
  const busName = busOf(known, bus)?.name ?? null;
  const dictionary = known?.dictionaries.find((d) => d.bus === busName);
  const state = stateOf(dictionary, message);
  return {
    bus,
    busName,
    id: formatId(id, extended),
    ext: extended ? 1 : 0,
    length: message.length,
    frames: message.frames,
    periodMs: message.periodMs,
    jitterMs: message.jitterMs,
    timing: message.timing,
    missing: message.missing,
    sender,
    name: dictionary?.messages.find((m) => m.id === id && m.extended === extended)?.name ?? null,
    flipRate: Array.from(message.flipRate),
    signals: message.signals.map((s) => ({ ...s, state: state('signal', s, s.selectorValue) })),
    counter: counter && { ...counter, state: state('counter', counter, null) },
    check: check && { ...checkReply(check), state: state('check', check, null) },
    selector: selector && { ...selector, state: state('selector', selector, null) },
    open: message.open,
  };
}

function stateOf(dictionary: Dictionary | undefined, message: FoundMessage) {
  return (
    field: FindingKey['field'],
    { start, length }: { start: number; length: number },
    selectorValue: number | null,
  ) => findingState(dictionary, message, { field, start, length, selectorValue });
}

function checkReply(check: FoundCheck) {
  const digits = Math.ceil(check.width / 4);
  const word = (value: number) => `0x${value.toString(16).toUpperCase().padStart(digits, '0')}`;
  return {
    ...check,
    poly: word(check.poly),
    init: word(check.init),
    xorout: word(check.xorout),
    prefix: hex(check.prefix),
    suffix: hex(check.suffix),
  };
}
