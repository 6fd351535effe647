/**
 * Check fields: the part of a payload that follows from the rest of it, so that a receiver can refuse damaged data.
 * One model covers cyclic redundancy checks of any polynomial, exclusive-or and sums, with identifier bytes, constant
 * bytes and a constant per counter value folded in; it serves findings, bridge, guard and firmware alike.
 */

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
