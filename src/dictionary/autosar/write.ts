/**
 * Dictionaries as an AUTOSAR system description (ARXML, schema r4.0), readable by others: clusters, frames, PDUs, signals,
 * conversions, units, limits, senders. What AUTOSAR has no element for goes into special data groups of our own, so that
 * `readAutosar` gives the same dictionaries back.
 */

import { snakeKeys } from '../case.ts';
import type { Dictionary, Message, Signal } from '../model.ts';
import { same } from '../same.ts';
import { type Written, xmlText } from '../xml.ts';
import { messageElements } from './messageElements.ts';
import { Packages } from './packages.ts';
import { readAutosar } from './read.ts';

export interface AutosarBus {
  dictionary: Dictionary;
  bitRateBps?: number | undefined;
  dataBitRateBps?: number | undefined;
}

/** Fields by message that the standard elements do not carry: `message` of the message, `fields` of its signals, counter and check. */
export interface Exact {
  message: Record<string, unknown>;
  fields: Map<string, Record<string, unknown>>;
}

type ExactOf = (bus: number, message: number) => Exact | undefined;

/** The whole text. Reads back to the very same dictionaries. */
export function writeAutosar(buses: readonly AutosarBus[]): string {
  // Once without own data, to see what the standard elements say; then with what they do not.
  const plain = readAutosar(written(buses, () => undefined)).dictionaries;
  const exacts = buses.map(({ dictionary }, b) => {
    const back = new Map(plain[b]?.messages.map((m) => [`${m.extended}:${m.id}`, m]));
    return dictionary.messages.map((message) =>
      difference(message, back.get(`${message.extended}:${message.id}`)),
    );
  });
  return written(buses, (bus, message) => exacts[bus]?.[message]);
}

function written(buses: readonly AutosarBus[], exactOf: ExactOf): string {
  const packages = new Packages();
  for (const [b, bus] of buses.entries()) {
    const { dictionary } = bus;
    const triggerings = dictionary.messages.map((message, m) =>
      messageElements(message, dictionary.bus, packages, exactOf(b, m)),
    );
    packages.cluster(bus, triggerings);
  }
  const root: Written = [
    'AUTOSAR xmlns="http://autosar.org/schema/r4.0" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" xsi:schemaLocation="http://autosar.org/schema/r4.0 AUTOSAR_00048.xsd"',
    [['AR-PACKAGES', packages.written()]],
  ];
  return `<?xml version="1.0" encoding="UTF-8"?>\n${xmlText(root)}`;
}

/** What has to be said beside the standard elements so that `message` comes back instead of `plain`. */
function difference(message: Message, plain: Message | undefined): Exact {
  const fields = new Map<string, Record<string, unknown>>();
  const own: Record<string, unknown> = {};
  for (const key of ['name', 'period_ms', 'sender', 'note', 'selector'] as const) {
    const wanted = snake(message)[key];
    if (!same(wanted, plain === undefined ? undefined : snake(plain)[key])) own[key] = wanted ?? null;
  }
  const rejected = message.signals.flatMap((signal, at) =>
    signal.state === 'rejected' ? [{ at, signal: snake(signal) }] : [],
  );
  const kept = message.signals.filter((signal) => signal.state !== 'rejected');
  for (const [s, signal] of kept.entries())
    fields.set(`signal ${s}`, signalDifference(signal, plain?.signals ?? []));
  if (rejected.length > 0) own['rejected'] = rejected;
  const came = plain?.signals.map((s) => s.name) ?? [];
  const wanted = kept.map((s) => s.name);
  if (!same(came, wanted)) own['order'] = wanted;
  for (const kind of ['counter', 'check'] as const) {
    const { start: _, length: __, byte_order: ___, ...rest } = snake(message[kind] ?? {});
    fields.set(kind, { kind, ...rest });
  }
  return { message: own, fields };
}

/** Compared at the place of the signal: its name is one of the things that may have changed on the way. */
function signalDifference(signal: Signal, plain: readonly Signal[]): Record<string, unknown> {
  const back = plain.find(
    (p) =>
      p.start === signal.start &&
      p.length === signal.length &&
      p.byteOrder === signal.byteOrder &&
      p.selectorValue === signal.selectorValue,
  );
  const wanted = snake(signal);
  const came = back === undefined ? {} : snake(back);
  const keys = new Set([...Object.keys(wanted), ...Object.keys(came)]);
  const place = new Set(['start', 'length', 'byte_order', 'selector_value']);
  const own: Record<string, unknown> = {};
  for (const key of keys)
    if (!place.has(key) && !same(wanted[key], came[key])) own[key] = wanted[key] ?? null;
  return own;
}

function snake(data: object): Record<string, unknown> {
  return snakeKeys(data) as Record<string, unknown>;
}
