import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { type CheckField, checkBytesNeeded, checkValue, readCheck, writeCheck } from '../../src/can/check.ts';
import { crc } from '../../src/can/crc.ts';

const plain: CheckField = {
  start: 56,
  length: 8,
  byteOrder: 'little',
  algorithm: 'crc',
  width: 8,
  poly: 0x1d,
  init: 0xff,
  xorout: 0xff,
  reflected: false,
  covers: [0, 1, 2, 3, 4, 5, 6],
  prefix: [],
  suffix: [],
  idBytes: [],
  perCounter: null,
};
const payload = Uint8Array.of(0x12, 0x34, 0x56, 0x78, 0x9a, 0xbc, 0xde, 0xf0);

describe('check fields', () => {
  test('bytes enter as prefix, identifier, covered bytes, suffix', () => {
    const field = { ...plain, prefix: [1, 2], idBytes: [1, 0], covers: [3, 0], suffix: [9] };
    expect(checkValue(field, 0x1a2, payload, 0, 8)).toBe(crc(plain, [1, 2, 0x01, 0xa2, 0x78, 0x12, 9]));
  });

  test('bits of the field itself count as zero', () => {
    const field: CheckField = {
      ...plain,
      start: 18,
      length: 4,
      width: 8,
      algorithm: 'xor',
      init: 0,
      xorout: 0,
      covers: [2, 1],
    };
    expect(checkValue(field, 0, payload, 0, 8)).toBe(((0x56 & ~0x3c) ^ 0x34) & 15);
  });

  test('sums run up from, or down from, the start value', () => {
    const sum = 0x12 + 0x34 + 0x56;
    const field = { ...plain, covers: [0, 1, 2], init: 5, xorout: 0 };
    expect(checkValue({ ...field, algorithm: 'sum' }, 0, payload, 0, 8)).toBe((5 + sum) & 0xff);
    expect(checkValue({ ...field, algorithm: 'sumComplement' }, 0, payload, 0, 8)).toBe((5 - sum) & 0xff);
    const upper = { ...field, covers: [4, 5] };
    expect(checkValue({ ...upper, algorithm: 'nibbleSum' }, 0, payload, 0, 8)).toBe(5 + 9 + 10 + 11 + 12);
    expect(checkValue({ ...field, algorithm: 'sum', xorout: 0xff }, 0, payload, 0, 8)).toBe(
      ~(5 + sum) & 0xff,
    );
  });

  test('the constant of the counter value is exclusive-ored into a CRC and added to a sum', () => {
    const perCounter = [0x11, 0x22];
    const base = checkValue(plain, 0, payload, 0, 8);
    expect(checkValue({ ...plain, perCounter }, 0, payload, 0, 8, 1)).toBe(base ^ 0x22);
    const sum: CheckField = { ...plain, algorithm: 'sum', init: 0, xorout: 0 };
    expect(checkValue({ ...sum, perCounter }, 0, payload, 0, 8, 1)).toBe(
      (checkValue(sum, 0, payload, 0, 8) + 0x22) & 0xff,
    );
  });

  test('a counter value without a constant makes no frame valid', () => {
    const field = { ...plain, perCounter: [1, 2] };
    expect(checkValue(field, 0, payload, 0, 8, 2)).toBeNaN();
    expect(checkValue(field, 0, payload, 0, 8)).toBeNaN();
    expect(() => writeCheck(field, 0, payload.slice(), 0, 8, 2)).toThrow(
      'the check has no constant for counter value 2; it has 2, from 0',
    );
  });

  test('a payload that is too short is refused, not read past its end', () => {
    expect(checkBytesNeeded(plain)).toBe(8);
    expect(checkBytesNeeded({ ...plain, start: 0, covers: [1, 4] })).toBe(5);
    expect(() => checkValue(plain, 0, payload, 0, 7)).toThrow('a payload of 8 bytes or more, found 7');
  });

  test('32-bit sums and CRCs stay unsigned', () => {
    const wide: CheckField = {
      ...plain,
      start: 32,
      length: 32,
      width: 32,
      covers: [0, 1],
      init: 0xffff_ffff,
      xorout: 0,
    };
    expect(checkValue({ ...wide, algorithm: 'sum' }, 0, payload, 0, 8)).toBe(0x45);
    expect(checkValue({ ...wide, algorithm: 'sumComplement', init: 0 }, 0, payload, 0, 8)).toBe(
      2 ** 32 - 0x46,
    );
    expect(checkValue({ ...wide, poly: 0x04c11db7 }, 0, payload, 0, 8)).toBeGreaterThanOrEqual(0);
  });

  test('a written check is the one that verifies, and any single wrong bit under a CRC shows', () => {
    const at = fc.integer({ min: 0, max: 62 });
    fc.assert(
      fc.property(
        fc.uint8Array({ minLength: 10, maxLength: 10 }),
        fc.constantFrom(0x1d, 0x2f, 0x9b),
        at,
        fc.boolean(),
        (bytes, poly, bit, reflected) => {
          const field = { ...plain, poly, reflected, idBytes: [0, 1] };
          writeCheck(field, 0x123, bytes, 1, 8);
          expect(readCheck(field, bytes, 1)).toBe(checkValue(field, 0x123, bytes, 1, 8));
          bytes[1 + (bit >> 3)] = (bytes[1 + (bit >> 3)] as number) ^ (1 << (bit & 7));
          expect(readCheck(field, bytes, 1)).not.toBe(checkValue(field, 0x123, bytes, 1, 8));
        },
      ),
    );
  });
});
