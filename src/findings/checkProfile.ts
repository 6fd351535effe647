/**
 * Check fields that are laid out as a profile of AUTOSAR end-to-end protection lays them out: which CRC, where it and the
 * counter stand, how the counter runs, and where the bytes of a data identifier enter. Source of the layouts: AUTOSAR
 * PRS_E2EProtocol, profiles 1, 2, 5, 6, 11 and 22, as public test suites that quote its tables give them. The layout is
 * what names the profile; a data identifier that is not sent shows only in a constant, and is worked out of that.
 */
import { fieldBits } from '../can/bits.ts';
import type { CheckField } from '../can/check.ts';
import { crc } from '../can/crc.ts';
import type { FoundCounter } from './model.ts';
import { hexOf } from './words.ts';

export interface ProfileMatch {
  standard: string;
  /** The check with start value and identifier as the profile has them; gives the same values. */
  field: CheckField;
  text: string;
}

/** The profile whose layout the finished check has; null where it has none. */
export function profileOf(field: CheckField, counters: readonly FoundCounter[]): ProfileMatch | null {
  if (field.algorithm !== 'crc' || field.reflected || field.idBytes.length > 0) return null;
  const bits = fieldBits(field);
  const first = Math.min(...bits) >> 3;
  const bytes = field.length >> 3;
  const wholeBytes = field.length === 8 * bytes && bits.length === 8 * bytes && Math.min(...bits) % 8 === 0;
  if (!wholeBytes || !coversTheRest(field, first, bytes)) return null;
  const counterAt = (start: number, length: number) =>
    counters.find((c) => c.start === start && c.length === length && c.step === 1);
  if (field.width === 8) {
    const counter = counterAt(8 * (first + 1), 4);
    if (field.poly === 0x1d && counter?.skip.join() === '15') return profile1(field);
    if (field.poly === 0x2f && counter?.skip.length === 0) return profile2(field);
  }
  if (field.width !== 16 || field.poly !== 0x1021 || field.suffix.length !== 2) return null;
  if (counterAt(8 * (first + 2), 8)?.skip.length === 0) return withTwoBytes(field, '5');
  if (field.byteOrder === 'big' && counterAt(8 * (first + 4), 8)?.skip.length === 0) {
    return withTwoBytes(field, '6');
  }
  return null;
}

/** Every byte but those of the field, rising without a gap. */
function coversTheRest({ covers }: CheckField, first: number, bytes: number): boolean {
  return covers.every((byte, k) => byte === (k < first ? k : k + bytes));
}

/** Data ID before the data, start value and final constant zero. */
function profile1(field: CheckField): ProfileMatch | null {
  if (field.suffix.length > 0) return null;
  const standard = 'AUTOSAR E2E profile 1 or 11';
  if (field.perCounter) {
    const taken = field.perCounter.slice(0, 15);
    if (taken.some((constant, count) => constant !== taken[count & 1])) return null;
    const [even, odd] = [0, 1].map((k) => beforeByte(field, taken[k] as number));
    return {
      standard: 'AUTOSAR E2E profile 1',
      field,
      text: `Two constants in turn, as where the low and the high byte of the data ID enter in turn: bytes ${hexOf(even as number, 8)} and ${hexOf(odd as number, 8)}.`,
    };
  }
  const zeros = { ...field, init: 0, xorout: 0 };
  const constant = constantOf(field) ^ constantOf(zeros);
  const low = hexOf(beforeByte(field, constant), 8);
  const both = hexOf(beforeByte({ ...field, covers: [0, ...field.covers] }, constant), 8);
  return {
    standard,
    field,
    text: `Of the data ID only one constant shows: ${low} where its low byte alone enters, low byte ${both} where its upper half is sent, any of 256 pairs of bytes where both enter.`,
  };
}

/** One byte of a list after the data, chosen by the counter. */
function profile2(field: CheckField): ProfileMatch | null {
  if (field.suffix.length !== 1 || field.perCounter?.length !== 16) return null;
  const parameters = { ...field, init: 0xff, xorout: 0xff };
  const list = field.perCounter.map((constant) => {
    const wanted = constantOf(field) ^ constant;
    return byteWhere((byte) => constantOf({ ...parameters, suffix: [byte] }) === wanted);
  });
  const words = list.map((byte) => byte.toString(16).toUpperCase().padStart(2, '0')).join(' ');
  return {
    standard: 'AUTOSAR E2E profile 2 or 22',
    field,
    text: `The constants are those of this list of data IDs, by counter value: ${words}.`,
  };
}

/** The 16-bit data ID after the data, low byte first in profile 5, high byte first in profile 6. */
function withTwoBytes(field: CheckField, profile: '5' | '6'): ProfileMatch | null {
  if (field.perCounter) return null;
  const parameters = { ...field, init: 0xffff, xorout: 0 };
  const wanted = constantOf(field) ^ constantOf({ ...parameters, suffix: [0, 0] });
  const plain = { width: 16, poly: field.poly, init: 0, xorout: 0, reflected: false };
  for (let pair = 0; pair < 65_536; pair++) {
    const suffix = [pair >> 8, pair & 255];
    if (crc(plain, suffix) !== wanted) continue;
    const [a, b] = suffix as [number, number];
    const id = profile === '5' ? (b << 8) | a : pair;
    return {
      standard: `AUTOSAR E2E profile ${profile}`,
      field: { ...parameters, suffix },
      text: `As in that profile the constant is a data ID, ${hexOf(id, 16)}; every constant would be one.`,
    };
  }
  return null;
}

/** What the check gives over covered bytes that are all zero. */
function constantOf(field: CheckField): number {
  const { prefix, covers, suffix } = field;
  return crc(field, [...prefix, ...covers.map(() => 0), ...suffix]);
}

/** The byte before the covered ones that adds this to the result. */
function beforeByte(field: CheckField, added: number): number {
  const plain = { ...field, init: 0, xorout: 0 };
  return byteWhere((byte) => constantOf({ ...plain, prefix: [byte] }) === added);
}

/** One byte reaches each value of a CRC of 8 bits exactly once. */
function byteWhere(fits: (byte: number) => boolean): number {
  for (let byte = 0; byte < 256; byte++) if (fits(byte)) return byte;
  return 0;
}
