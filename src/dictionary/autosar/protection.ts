/** Finds the end-to-end protection of a signal group: a transformer (AUTOSAR 4.2 on), or a protection set (before). */

import { child, type Element, list, textAt } from '../xml.ts';
import { numberOf } from './conversion.ts';
import { type ProtectionFields, profileFields } from './profiles.ts';
import type { References } from './references.ts';

/** Modes as protection sets number them. */
const MODES = ['ALL-16-BIT', 'ALTERNATING-8-BIT', 'LOWER-8-BIT', 'LOWER-12-BIT'];

/** null where the group has none; a sentence where a dictionary cannot hold it. `base`: first bit of the PDU in the frame. */
export function protection(
  group: Element,
  pdu: Element,
  base: number,
  references: References,
): ProtectionFields | string | null {
  const pduBytes = numberOf(textAt(pdu, 'LENGTH')) ?? 0;
  for (const properties of list(
    group,
    'TRANSFORMATION-I-SIGNAL-PROPSS',
    'END-TO-END-TRANSFORMATION-I-SIGNAL-PROPS',
  ))
    for (const own of list(
      properties,
      'END-TO-END-TRANSFORMATION-I-SIGNAL-PROPS-VARIANTS',
      'END-TO-END-TRANSFORMATION-I-SIGNAL-PROPS-CONDITIONAL',
    )) {
      const transformer = references.follow(own, 'TRANSFORMER-REF');
      const description = child(
        transformer,
        'TRANSFORMATION-DESCRIPTIONS',
        'END-TO-END-TRANSFORMATION-DESCRIPTION',
      );
      if (description === undefined) continue;
      return settled(description, own, textAt(description, 'PROFILE-NAME'), base, pduBytes);
    }
  for (const one of references.all('END-TO-END-PROTECTION')) {
    const profile = child(one, 'END-TO-END-PROFILE');
    for (const use of list(
      one,
      'END-TO-END-PROTECTION-I-SIGNAL-I-PDUS',
      'END-TO-END-PROTECTION-I-SIGNAL-I-PDU',
    )) {
      if (textAt(use, 'I-SIGNAL-GROUP-REF') !== group.path || profile === undefined) continue;
      const at = numberOf(textAt(use, 'DATA-OFFSET')) ?? 0;
      return settled(profile, profile, textAt(profile, 'CATEGORY'), base + 8 * Math.floor(at / 8), pduBytes);
    }
  }
  return null;
}

function settled(
  description: Element,
  ids: Element,
  profile: string,
  base: number,
  pduBytes: number,
): ProtectionFields | string {
  const number = (name: string, usual: number) => numberOf(textAt(description, name)) ?? usual;
  const bits = numberOf(textAt(ids, 'DATA-LENGTH'));
  const mode = textAt(description, 'DATA-ID-MODE') || 'ALL-16-BIT';
  return profileFields(
    {
      profile,
      dataIds: list(ids, 'DATA-IDS', 'DATA-ID').map((id) => numberOf(id.text) ?? 0),
      mode: MODES[Number(mode)] ?? mode,
      crcOffset: number('CRC-OFFSET', 0),
      counterOffset: number('COUNTER-OFFSET', 8),
      offset: number('OFFSET', 0),
      bytes: Math.min(64, bits === null ? pduBytes : Math.floor(bits / 8)),
    },
    base,
  );
}
