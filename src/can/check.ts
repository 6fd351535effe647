/**
 * Check fields: the part of a payload that follows from the rest of it, so that a receiver can refuse damaged data.
 * One model covers cyclic redundancy checks of any polynomial, exclusive-or and sums, with identifier bytes, constant
 * bytes and a constant per counter value folded in; it serves findings, bridge, guard and firmware alike.
 *
 * What a check field holds, exactly. The bytes that enter are, in this order: `prefix`; the bytes of the identifier
 * named by `idBytes` (0 = bits 7…0, 3 = bits 28…24); the payload bytes named by `covers`, in the order of that list,
 * with the bits of the check field itself as zero; `suffix`. Then, mod 2^width:
 *
 * - `crc`: the CRC of those bytes from start value `init` (can/crc.ts; polynomial and start value in normal form also
 *   when `reflected`), exclusive-or `xorout`, exclusive-or the constant of the counter value;
 * - `xor`: `init` exclusive-or every byte, exclusive-or `xorout`, exclusive-or the constant of the counter value;
 * - `sum`: (`init` + Σ bytes + constant of the counter value) exclusive-or `xorout`;
 * - `sumComplement`: (`init` − Σ bytes + constant of the counter value) exclusive-or `xorout`;
 * - `nibbleSum`: (`init` + Σ of both halves of every byte + constant of the counter value) exclusive-or `xorout`.
 *
 * The field holds the low `length` bits of that; it stands in the payload as bits.ts says.
 */
import { bytesNeeded, fieldBits, readBits, writeBits } from './bits.ts';
import { crcFinish, crcStart, crcUpdate } from './crc.ts';

export type CheckAlgorithm = 'crc' | 'xor' | 'sum' | 'sumComplement' | 'nibbleSum';

export interface CheckField {
  /** AUTOSAR bit number of the field: 8 × byte + bit; least significant bit if little-endian, most significant if big-endian. */
  start: number;
  /** Bits of the field in the payload, 1–32. */
  length: number;
  byteOrder: 'little' | 'big';
  algorithm: CheckAlgorithm;
  /** Width of the computation in bits; the field carries its low `length` bits. */
  width: number;
  /** CRC only: generator polynomial without its top bit, as in 0x1D for x⁸+x⁴+x³+x²+1. */
  poly: number;
  /** Start value of the register or of the sum. */
  init: number;
  /** Exclusive-or applied to the result. */
  xorout: number;
  /** CRC only: bytes enter, and the result leaves, least significant bit first. */
  reflected: boolean;
  /** Payload bytes that are covered, in the order in which they enter. Bits of the field itself count as zero. */
  covers: number[];
  /** Constant bytes that enter before and after the covered bytes. */
  prefix: number[];
  suffix: number[];
  /** Bytes of the identifier that enter after the prefix: 0 = lowest byte. */
  idBytes: number[];
  /** One constant per counter value, exclusive-ored into the result (crc, xor) or added to it (sums); null where there is none. */
  perCounter: number[] | null;
}

/**
 * What the check field of a payload `payload[from … from + length)` sent under `id` should hold.
 * NaN where the check has a constant per counter value and none for this one: no such frame is valid.
 * @throws RangeError when the payload is shorter than `checkBytesNeeded`.
 */
export function checkValue(
  field: CheckField,
  id: number,
  payload: Uint8Array,
  from: number,
  length: number,
  counterValue?: number,
): number {
  return checkFunction(field)(id, payload, from, length, counterValue);
}

/** Sets the check field to what `checkValue` gives. Call it last, when counter and signals are in. */
export function writeCheck(
  field: CheckField,
  id: number,
  payload: Uint8Array,
  from: number,
  length: number,
  counterValue?: number,
): void {
  const value = checkValue(field, id, payload, from, length, counterValue);
  if (Number.isNaN(value)) {
    throw new RangeError(
      `the check has no constant for counter value ${counterValue}; it has ${field.perCounter?.length}, from 0`,
    );
  }
  writeBits(payload, from, field, value);
}

/** What the check field of a payload does hold. */
export function readCheck(field: CheckField, payload: Uint8Array, from: number): number {
  return readBits(payload, from, field);
}

export type CheckFunction = (
  id: number,
  payload: Uint8Array,
  from: number,
  length: number,
  counterValue?: number,
) => number;

/** `checkValue` prepared for one field, for loops over many frames. */
export function checkFunction(field: CheckField): CheckFunction {
  const needed = checkBytesNeeded(field);
  const keep = keptBits(field, needed);
  const { covers, idBytes, prefix, suffix, perCounter } = field;
  const fold = folding(field);
  const bytes = new Uint8Array(prefix.length + idBytes.length + covers.length + suffix.length);
  bytes.set(prefix, 0);
  bytes.set(suffix, bytes.length - suffix.length);
  const mask = field.length >= 32 ? 0xffff_ffff : 2 ** field.length - 1;
  return (id, payload, from, length, counterValue) => {
    if (length < needed) {
      throw new RangeError(`the check needs a payload of ${needed} bytes or more, found ${length}`);
    }
    let constant = 0;
    if (perCounter) {
      if (counterValue === undefined || perCounter[counterValue] === undefined) return Number.NaN;
      constant = perCounter[counterValue];
    }
    let at = prefix.length;
    for (const byte of idBytes) bytes[at++] = id >>> (8 * byte);
    for (const byte of covers) bytes[at++] = (payload[from + byte] as number) & (keep[byte] as number);
    return (fold(bytes, constant) & mask) >>> 0;
  };
}

/** Payload bytes that must be present for a check to be formed and read. */
export function checkBytesNeeded(field: CheckField): number {
  return Math.max(bytesNeeded(field), ...field.covers.map((byte) => byte + 1));
}

/** Per payload byte the bits that count, all but those of the check field itself. */
function keptBits(field: CheckField, bytes: number): Uint8Array {
  const keep = new Uint8Array(bytes).fill(0xff);
  for (const bit of fieldBits(field)) keep[bit >> 3] = (keep[bit >> 3] as number) & ~(1 << (bit & 7));
  return keep;
}

function folding(field: CheckField): (bytes: Uint8Array, constant: number) => number {
  const { width, init, xorout } = field;
  const mask = width >= 32 ? 0xffff_ffff : 2 ** width - 1;
  switch (field.algorithm) {
    case 'crc':
      return (bytes, constant) =>
        crcFinish(field, crcUpdate(field, crcStart(field), bytes, 0, bytes.length)) ^ constant;
    case 'xor':
      return (bytes, constant) => {
        let r = init;
        for (const byte of bytes) r ^= byte;
        return (r ^ xorout ^ constant) & mask;
      };
    case 'sum':
      return (bytes, constant) => {
        let sum = init + constant;
        for (const byte of bytes) sum += byte;
        return ((sum & mask) ^ xorout) & mask;
      };
    case 'sumComplement':
      return (bytes, constant) => {
        let sum = init + constant;
        for (const byte of bytes) sum -= byte;
        return ((sum & mask) ^ xorout) & mask;
      };
    case 'nibbleSum':
      return (bytes, constant) => {
        let sum = init + constant;
        for (const byte of bytes) sum += (byte >> 4) + (byte & 15);
        return ((sum & mask) ^ xorout) & mask;
      };
  }
}
