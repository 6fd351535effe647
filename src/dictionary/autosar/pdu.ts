/** What stands in a PDU: signals with their places, selector and alternatives, update bits, timing. */

import { fieldBits } from '../bits.ts';
import { child, type Element, list, nameOf, textAt } from '../xml.ts';
import { numberOf, periodMsOf } from './conversion.ts';
import type { LeftOut } from './leftOut.ts';
import { protection } from './protection.ts';
import type { References } from './references.ts';
import { mappedSignal, orderOf } from './signal.ts';

type Entry = Record<string, unknown>;

/** Collected over the PDUs of one frame, in the spelling of dictionary files. */
export interface Content {
  signals: Entry[];
  periodsMs: number[];
  selector?: Entry;
  counter?: Entry;
  check?: Entry;
  /** Counter or check field come from our own data, which says more than a profile. */
  own?: true;
}

export interface Walk {
  /** First bit of the PDU in the frame, a multiple of 8. */
  base: number;
  content: Content;
  references: References;
  left: LeftOut;
  /** Inside an alternative: the value of the selector with which it is sent. */
  selectorValue?: number;
}

/** Adds what stands in the PDU to `walk.content`. */
export function pduContent(pdu: Element, walk: Walk): void {
  switch (pdu.name) {
    case 'I-SIGNAL-I-PDU':
    case 'NM-PDU':
      signalPdu(pdu, walk);
      return;
    case 'MULTIPLEXED-I-PDU':
      if (walk.selectorValue !== undefined || walk.content.selector !== undefined)
        walk.left.add('a second multiplexed PDU in one frame', pdu.path);
      else multiplexed(pdu, walk);
      return;
    default:
      walk.left.add(`${pdu.name}, whose content no dictionary can hold`, pdu.path);
  }
}

function multiplexed(pdu: Element, walk: Walk): void {
  const { base, content, references, left } = walk;
  const start = numberOf(textAt(pdu, 'SELECTOR-FIELD-START-POSITION'));
  const length = numberOf(textAt(pdu, 'SELECTOR-FIELD-LENGTH'));
  if (start === null || length === null) {
    left.add('a multiplexed PDU without place of its selector', pdu.path);
    return;
  }
  const order = orderOf(textAt(pdu, 'SELECTOR-FIELD-BYTE-ORDER'));
  content.selector = { start: base + start, length, byte_order: order === 'opaque' ? 'little' : order };
  for (const part of list(pdu, 'STATIC-PARTS', 'STATIC-PART')) {
    const inner = references.follow(part, 'I-PDU-REF');
    if (inner !== undefined) pduContent(inner, walk);
  }
  for (const part of list(pdu, 'DYNAMIC-PARTS', 'DYNAMIC-PART'))
    for (const alternative of list(part, 'DYNAMIC-PART-ALTERNATIVES', 'DYNAMIC-PART-ALTERNATIVE')) {
      const inner = references.follow(alternative, 'I-PDU-REF');
      const code = numberOf(textAt(alternative, 'SELECTOR-FIELD-CODE'));
      if (inner === undefined) continue;
      if (code === null) left.add('a dynamic part without SELECTOR-FIELD-CODE', inner.path);
      else pduContent(inner, { ...walk, selectorValue: code });
    }
}

function signalPdu(pdu: Element, walk: Walk): void {
  const { base, content, references, left, selectorValue } = walk;
  timing(pdu, content, left);
  const groups: Element[] = [];
  const mappings = [
    ...list(pdu, 'I-SIGNAL-TO-PDU-MAPPINGS', 'I-SIGNAL-TO-I-PDU-MAPPING'),
    ...list(pdu, 'I-SIGNAL-TO-I-PDU-MAPPINGS', 'I-SIGNAL-TO-I-PDU-MAPPING'),
  ];
  for (const mapping of mappings) {
    if (child(mapping, 'I-SIGNAL-GROUP-REF') !== undefined) {
      const group = references.follow(mapping, 'I-SIGNAL-GROUP-REF');
      if (group !== undefined) groups.push(group);
      continue;
    }
    const signal = references.follow(mapping, 'I-SIGNAL-REF');
    if (signal === undefined) continue;
    mappedSignal(signal, mapping, walk);
    const update = numberOf(textAt(mapping, 'UPDATE-INDICATION-BIT-POSITION'));
    if (update === null) continue;
    const value = selectorValue === undefined ? {} : { selector_value: selectorValue };
    const note = `1 while ${nameOf(signal)} is fresh (update indication bit)`;
    content.signals.push({
      name: `${nameOf(signal)} updated`,
      start: base + update,
      length: 1,
      byte_order: 'little',
      ...value,
      note,
    });
  }
  for (const group of groups) {
    const found = protection(group, pdu, base, references);
    if (found === null || content.own === true) continue;
    if (typeof found === 'string') left.add(found, group.path);
    else if (content.counter !== undefined || content.check !== undefined)
      left.add('a second end-to-end protection in one frame', group.path);
    else {
      content.counter = found.counter;
      content.check = found.check;
      content.signals = content.signals.filter((s) => !covered(s, found.header));
    }
  }
}

/** A signal that describes nothing but bits of the protection header itself. */
function covered(signal: Entry, header: ReadonlySet<number>): boolean {
  const { start, length, byte_order } = signal as {
    start: number;
    length: number;
    byte_order: 'little' | 'big';
  };
  return fieldBits({ start, length, byteOrder: byte_order }).every((bit) => header.has(bit));
}

function timing(pdu: Element, content: Content, left: LeftOut): void {
  for (const spec of list(pdu, 'I-PDU-TIMING-SPECIFICATIONS', 'I-PDU-TIMING')) {
    const declared = child(spec, 'TRANSMISSION-MODE-DECLARATION');
    const mode = child(declared, 'TRANSMISSION-MODE-TRUE-TIMING');
    const seconds = numberOf(textAt(mode, 'CYCLIC-TIMING', 'TIME-PERIOD', 'VALUE'));
    if (seconds !== null && seconds > 0) content.periodsMs.push(periodMsOf(seconds));
    if (child(mode, 'EVENT-CONTROLLED-TIMING')) left.add('EVENT-CONTROLLED-TIMING', pdu.path);
    if (child(declared, 'TRANSMISSION-MODE-FALSE-TIMING')) left.add('a second transmission mode', pdu.path);
    if (child(mode, 'CYCLIC-TIMING', 'TIME-OFFSET')) left.add('TIME-OFFSET of cyclic timing', pdu.path);
    if (child(spec, 'MINIMUM-DELAY')) left.add('MINIMUM-DELAY', pdu.path);
  }
}
