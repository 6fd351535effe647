/** One I-SIGNAL at its place in a PDU as the entry of a signal, counter or check field, in the spelling of dictionary files. */

import { child, type Element, nameOf, textAt } from '../xml.ts';
import { conversionOf, limitsOf, numberOf, signOf } from './conversion.ts';
import { exactOf, laidOver } from './ownData.ts';
import type { Walk } from './pdu.ts';
import { conditional } from './references.ts';

/** Adds one mapped signal to `walk.content`, or says why it cannot be held. */
export function mappedSignal(signal: Element, mapping: Element, walk: Walk): void {
  const { base, content, references, left, selectorValue } = walk;
  const own = exactOf(signal);
  const start = numberOf(textAt(mapping, 'START-POSITION'));
  const length = numberOf(textAt(signal, 'LENGTH'));
  const order = orderOf(textAt(mapping, 'PACKING-BYTE-ORDER'));
  if (start === null || length === null || length < 1 || length > 64) {
    const what =
      start === null || length === null
        ? 'a signal without START-POSITION or LENGTH'
        : `a signal of ${length} bits`;
    left.add(what, signal.path);
    return;
  }
  const place = { start: base + start, length, byte_order: order === 'opaque' ? 'little' : order };
  const { kind, ...fields } = own;
  if (kind === 'counter' || kind === 'check') {
    content[kind] = laidOver(place, fields);
    content.own = true;
    return;
  }
  if (order === 'opaque' && length > 8)
    left.add('byte arrays (OPAQUE), read as little-endian numbers', signal.path);
  const system = references.follow(signal, 'SYSTEM-SIGNAL-REF');
  const network = conditional(child(signal, 'NETWORK-REPRESENTATION-PROPS'));
  const physical = conditional(child(system, 'PHYSICAL-PROPS'));
  const property = (name: string) => {
    const reference = child(network, name) ?? child(physical, name);
    return reference === undefined ? undefined : references.at(reference);
  };
  const sign = signOf(property('BASE-TYPE-REF'));
  if (sign === null) {
    left.add('a signal that is no whole number (floating point, text, digits)', signal.path);
    return;
  }
  const method = property('COMPU-METHOD-REF');
  const conversion = conversionOf(method);
  for (const what of conversion.left) left.add(what, method?.path ?? signal.path);
  if (child(signal, 'INIT-VALUE') !== undefined) left.add('INIT-VALUE', signal.path);
  const unit = property('UNIT-REF') ?? references.follow(method, 'UNIT-REF');
  const note = textAt(signal, 'DESC', 'L-2') || textAt(system, 'DESC', 'L-2');
  const entry = {
    name: nameOf(signal),
    ...place,
    signed: sign.signed,
    scale: conversion.scale,
    offset: conversion.offset,
    unit: unit === undefined ? '' : textAt(unit, 'DISPLAY-NAME') || nameOf(unit),
    ...limitsOf(property('DATA-CONSTR-REF'), conversion),
    ...(conversion.values !== undefined && { values: conversion.values }),
    ...(selectorValue !== undefined && { selector_value: selectorValue }),
    ...(note !== '' && { note }),
  };
  content.signals.push(laidOver(entry, fields));
}

export function orderOf(text: string): 'little' | 'big' | 'opaque' {
  if (text === 'MOST-SIGNIFICANT-BYTE-FIRST') return 'big';
  return text === 'OPAQUE' ? 'opaque' : 'little';
}
