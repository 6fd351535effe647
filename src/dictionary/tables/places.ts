/**
 * Start bits as tables give them. Little-endian fields start at their least significant bit everywhere; of big-endian
 * ones some give the most significant bit (AUTOSAR), some the least significant, some count bits from the top of each byte.
 */
import { bytesNeeded, fieldBits } from '../bits.ts';

export const CONVENTIONS = {
  autosar: 'bit = 8 × byte + bit in byte; big-endian fields start at their most significant bit (AUTOSAR)',
  lowest: 'bit = 8 × byte + bit in byte; big-endian fields start at their least significant bit',
  'from-top':
    'big-endian fields start at their most significant bit, counted from the top bit of byte 0 on; little-endian as in AUTOSAR',
  'byte.bit': 'byte and bit in byte, both from 0; big-endian fields start at their most significant bit',
  'byte.bit lowest':
    'byte and bit in byte, both from 0; big-endian fields start at their least significant bit',
  'byte.bit from 1':
    'byte and bit in byte, both from 1; big-endian fields start at their most significant bit',
  'byte.bit from 1 lowest':
    'byte and bit in byte, both from 1; big-endian fields start at their least significant bit',
} as const;

export type Convention = keyof typeof CONVENTIONS;

/** A field as its row gives it. `byte` is given where the table has a byte of its own. */
export interface GivenPlace {
  byte: number | null;
  bit: number;
  length: number;
  byteOrder: 'little' | 'big';
}

/** AUTOSAR start bit, or null where the field would begin before byte 0 or the bit cannot stand in a byte. */
export function autosarStart(place: GivenPlace, convention: Convention): number | null {
  const fromOne = convention.includes('from 1') ? 1 : 0;
  const pair = place.byte !== null;
  if (pair !== convention.startsWith('byte.bit')) return null;
  if (pair && (place.bit < fromOne || place.bit > 7 + fromOne || (place.byte as number) < fromOne))
    return null;
  const number = pair ? 8 * ((place.byte as number) - fromOne) + place.bit - fromOne : place.bit;
  if (place.byteOrder === 'little') return number;
  if (convention === 'from-top') return number ^ 7;
  if (!convention.endsWith('lowest')) return number;
  // Counting each byte from its top bit makes a big-endian field run upwards without a jump.
  const first = (number ^ 7) - (place.length - 1);
  return first < 0 ? null : first ^ 7;
}

export interface PlacedField extends GivenPlace {
  /** Which message it belongs to, and its payload length in bytes (64 where not known). */
  message: string;
  messageLength: number;
  /** Fields of one message under different values of the selector may share bits. */
  selectorValue: number | null;
}

export interface PlacesRead {
  convention: Convention;
  confidence: number;
  /** Conventions that fit as well and would put fields elsewhere: then a person has to say which is meant. */
  rivals: Convention[];
  words: string;
}

/**
 * The convention under which fewest fields leave their message or share bits; between such that fit alike, the one under
 * which fields reach into fewer bytes (common practice, no source). What decided stands in `words`.
 */
export function inferConvention(
  fields: readonly PlacedField[],
  stated: Convention | null = null,
): PlacesRead {
  if (stated !== null)
    return { convention: stated, confidence: 1, rivals: [], words: `${CONVENTIONS[stated]}; as stated` };
  const pairs = fields.some((field) => field.byte !== null);
  const candidates = (Object.keys(CONVENTIONS) as Convention[]).filter(
    (c) => c.startsWith('byte.bit') === pairs,
  );
  const scored = candidates.map((convention) => ({
    convention,
    bad: misfits(fields, convention),
    needless: needlessBytes(fields, convention),
  }));
  const least = Math.min(...scored.map((s) => s.bad));
  const fitting = scored.filter((s) => s.bad === least);
  const neatest = Math.min(...fitting.map((s) => s.needless));
  const best = fitting.filter((s) => s.needless === neatest).map((s) => s.convention);
  const convention = best[0] as Convention;
  const rivals = best.slice(1).filter((other) => differs(fields, convention, other));
  const against = scored.filter((s) => s.bad > least).map((s) => `${s.bad} under "${s.convention}"`);
  const untidy = fitting.filter((s) => s.needless > neatest && differs(fields, convention, s.convention));
  const fit = least === 0 ? 'all fields fit without sharing bits' : `${least} fields do not fit`;
  const rest = against.length > 0 ? ` (do not fit: ${against.join(', ')})` : '';
  const neat =
    untidy.length > 0
      ? `; under "${untidy.map((s) => s.convention).join('", "')}" they would, too, but reach into ${untidy.map((s) => s.needless - neatest).join(', ')} more bytes than they need`
      : '';
  const alike =
    rivals.length > 0 ? `; "${rivals.join('", "')}" would fit as well and put fields elsewhere` : '';
  return {
    convention,
    confidence: ((least === 0 ? 1 : 0.5) * (untidy.length > 0 ? 0.9 : 1)) / (1 + rivals.length),
    rivals,
    words: `${CONVENTIONS[convention]}; ${fit}${rest}${neat}${alike}`,
  };
}

/** Bytes that fields reach into beyond as many as they need: few in a layout that a person drew. */
function needlessBytes(fields: readonly PlacedField[], convention: Convention): number {
  let needless = 0;
  for (const field of fields) {
    const start = autosarStart(field, convention);
    if (start === null || start > 511 || field.length < 1 || field.length > 64) continue;
    const place = { start, length: field.length, byteOrder: field.byteOrder };
    needless += bytesNeeded(place) - (start >> 3) - Math.ceil(field.length / 8);
  }
  return needless;
}

/** Fields outside their message, and fields that claim a bit which an earlier one has. */
function misfits(fields: readonly PlacedField[], convention: Convention): number {
  const taken = new Map<string, Map<number, Set<number | null>>>();
  let bad = 0;
  for (const field of fields) {
    const start = autosarStart(field, convention);
    if (start === null || field.length < 1 || field.length > 64 || start > 511) {
      bad++;
      continue;
    }
    const place = { start, length: field.length, byteOrder: field.byteOrder };
    if (bytesNeeded(place) > field.messageLength) {
      bad++;
      continue;
    }
    const bits = taken.get(field.message) ?? new Map<number, Set<number | null>>();
    taken.set(field.message, bits);
    const own = fieldBits(place);
    const clash = own.some((bit) => {
      const there = bits.get(bit);
      if (there === undefined) return false;
      return field.selectorValue === null || there.has(null) || there.has(field.selectorValue);
    });
    if (clash) bad++;
    for (const bit of own) bits.set(bit, (bits.get(bit) ?? new Set()).add(field.selectorValue));
  }
  return bad;
}

function differs(fields: readonly PlacedField[], one: Convention, other: Convention): boolean {
  return fields.some((field) => autosarStart(field, one) !== autosarStart(field, other));
}
