/**
 * End-to-end profiles of AUTOSAR (PRS E2E protocol) as counter and check field of a dictionary. Positions are those of
 * the protected data; where they stand in the payload is `base`. Data ID modes: both bytes; low byte on even and high byte
 * on odd counters; low byte; low byte and a zero while the low nibble of the high byte is sent.
 */
import { crc } from '../../can/crc.ts';

export interface ProfileSettings {
  /** "PROFILE_01" as files spell it. */
  profile: string;
  dataIds: readonly number[];
  /** ALL-16-BIT, ALTERNATING-8-BIT, LOWER-8-BIT, LOWER-12-BIT; profiles 01 and 11 only. */
  mode: string;
  /** Bits from the start of the protected data: of the CRC, the counter (01, 11), or the header (the others). */
  crcOffset: number;
  counterOffset: number;
  offset: number;
  /** Bytes of the protected data. */
  bytes: number;
}

export interface ProtectionFields {
  /** In the spelling of dictionary files. */
  counter: Record<string, unknown>;
  check: Record<string, unknown>;
  /** Payload bits of the header. */
  header: Set<number>;
}

const CRC8 = { width: 8, poly: 0x1d, init: 0, xorout: 0, reflected: false };
const CRC8H2F = { width: 8, poly: 0x2f, init: 0xff, xorout: 0xff, reflected: false };
const CCITT_FALSE = { width: 16, poly: 0x1021, init: 0xffff, xorout: 0, reflected: false };
const CRC32P4 = { width: 32, poly: 0xf4acfb13, init: 0xffff_ffff, xorout: 0xffff_ffff, reflected: true };

/** `base`: first payload bit of the protected data, a multiple of 8. A sentence where a dictionary cannot hold it. */
export function profileFields(settings: ProfileSettings, base: number): ProtectionFields | string {
  const { profile, dataIds, bytes } = settings;
  if (!Number.isInteger(bytes) || bytes < 1 || bytes > 64) return `end-to-end ${profile} over ${bytes} bytes`;
  const number = profile.replace(/^(E2E_)?PROFILE_?0*/i, '');
  const id = dataIds[0] ?? 0;
  const [low, high] = [id & 0xff, (id >> 8) & 0xff];
  switch (number) {
    case '1':
    case '11':
      if (dataIds.length !== 1) return `end-to-end ${profile} with ${dataIds.length} data IDs`;
      return profile1(settings, base, low, high);
    case '2':
    case '22': {
      if (dataIds.length !== 16) return `end-to-end ${profile} with ${dataIds.length} data IDs instead of 16`;
      const at = number === '2' ? 0 : settings.offset;
      const constants = dataIds.map((one) => crc({ ...CRC8H2F, init: 0, xorout: 0 }, [one & 0xff]));
      const counter = little(base + at + 8, 4);
      const check = { ...little(base + at, 8), ...CRC8H2F, suffix: [0], per_counter: constants };
      return fields(counter, check, base, bytes, at >> 3, 1, bitsOf(base + at, 12));
    }
    case '4': {
      const at = settings.offset;
      const counter = { start: base + at + 16 + 7, length: 16, byte_order: 'big' };
      const check = { start: base + at + 64 + 7, length: 32, byte_order: 'big', ...CRC32P4 };
      return fields(counter, check, base, bytes, (at >> 3) + 8, 4, bitsOf(base + at, 96));
    }
    case '5': {
      const at = settings.offset;
      const check = { ...little(base + at, 16), ...CCITT_FALSE, suffix: [low, high] };
      return fields(little(base + at + 16, 8), check, base, bytes, at >> 3, 2, bitsOf(base + at, 24));
    }
    case '6': {
      const at = settings.offset;
      const check = {
        start: base + at + 7,
        length: 16,
        byte_order: 'big',
        ...CCITT_FALSE,
        suffix: [high, low],
      };
      return fields(little(base + at + 32, 8), check, base, bytes, at >> 3, 2, bitsOf(base + at, 40));
    }
    default:
      return `end-to-end ${profile || 'protection without profile'}, which no dictionary can hold`;
  }
}

function profile1(
  settings: ProfileSettings,
  base: number,
  low: number,
  high: number,
): ProtectionFields | string {
  const { mode, crcOffset, counterOffset, bytes } = settings;
  const MODES: Record<string, number[]> = {
    'ALL-16-BIT': [low, high],
    'ALTERNATING-8-BIT': [low],
    'LOWER-8-BIT': [low],
    'LOWER-12-BIT': [low, 0],
  };
  const prefix = MODES[mode];
  if (prefix === undefined) return `end-to-end ${settings.profile} with data ID mode "${mode}"`;
  const check: Record<string, unknown> = { ...little(base + crcOffset, 8), ...CRC8, prefix };
  // A CRC is affine: another first byte adds a constant, which depends only on how many bytes follow.
  const flip = crc(CRC8, [low ^ high, ...new Array<number>(Math.max(0, bytes - 1)).fill(0)]);
  if (mode === 'ALTERNATING-8-BIT')
    check['per_counter'] = Array.from({ length: 15 }, (_, c) => (c % 2) * flip);
  const counter = { ...little(base + counterOffset, 4), skip: [15] };
  const header = new Set([...bitsOf(base + crcOffset, 8), ...bitsOf(base + counterOffset, 4)]);
  return fields(counter, check, base, bytes, crcOffset >> 3, 1, header);
}

function fields(
  counter: Record<string, unknown>,
  check: Record<string, unknown>,
  base: number,
  bytes: number,
  crcByte: number,
  crcBytes: number,
  header: Set<number>,
): ProtectionFields {
  const first = base >> 3;
  const covers = Array.from({ length: bytes }, (_, i) => i)
    .filter((i) => i < crcByte || i >= crcByte + crcBytes)
    .map((i) => first + i);
  return { counter, check: { algorithm: 'crc', ...check, covers }, header };
}

function little(start: number, length: number) {
  return { start, length, byte_order: 'little' };
}

function bitsOf(start: number, length: number): Set<number> {
  return new Set(Array.from({ length }, (_, i) => start + i));
}
