import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  type CrcParameters,
  crc,
  crc64,
  crcFinish,
  crcOfBits,
  crcStart,
  crcUpdate,
} from '../../src/can/crc.ts';

const anyParameters = fc.integer({ min: 1, max: 32 }).chain((width) => {
  const value = fc.integer({ min: 0, max: 2 ** width - 1 });
  return fc.record({
    width: fc.constant(width),
    poly: value,
    init: value,
    xorout: value,
    reflected: fc.boolean(),
  });
});

/** Long division over GF(2), one bit at a time, with big integers. */
function byDivision(p: CrcParameters, bytes: Uint8Array): number {
  const w = BigInt(p.width);
  let r = BigInt(p.init);
  for (const byte of bytes) {
    for (let k = 0; k < 8; k++) {
      const bit = BigInt((byte >> (p.reflected ? k : 7 - k)) & 1);
      const out = (r >> (w - 1n)) ^ bit;
      r = BigInt.asUintN(p.width, r << 1n) ^ (out ? BigInt(p.poly) : 0n);
    }
  }
  let value = 0n;
  for (let i = 0n; i < w; i++) {
    const bit = (r >> i) & 1n;
    value |= bit << (p.reflected ? w - 1n - i : i);
  }
  return Number(value ^ BigInt(p.xorout));
}

const data = fc.uint8Array({ maxLength: 20 });

describe('CRC', () => {
  test('the table form equals division bit by bit for every width from 1 to 32', () => {
    fc.assert(
      fc.property(anyParameters, data, (p, bytes) => {
        expect(crc(p, bytes)).toBe(byDivision(p, bytes));
      }),
      { numRuns: 2000 },
    );
  });

  test('bytes may come in pieces', () => {
    fc.assert(
      fc.property(anyParameters, data, data, (p, a, b) => {
        const first = crcUpdate(p, crcStart(p), a, 0, a.length);
        expect(crcFinish(p, crcUpdate(p, first, b, 0, b.length))).toBe(crc(p, Uint8Array.of(...a, ...b)));
      }),
    );
  });

  test('bits one by one give what bytes give', () => {
    fc.assert(
      fc.property(anyParameters, data, (parameters, bytes) => {
        const p = { ...parameters, reflected: false, xorout: 0 };
        const bits = [...bytes].flatMap((byte) => [7, 6, 5, 4, 3, 2, 1, 0].map((k) => (byte >> k) & 1));
        expect(crcOfBits(p, bits)).toBe(crc(p, bytes));
      }),
    );
  });

  test('64 bits: the reflected form is the mirror of the plain one', () => {
    const mirror = (byte: number) =>
      Number.parseInt(byte.toString(2).padStart(8, '0').split('').reverse().join(''), 2);
    const mirror64 = (x: bigint) =>
      BigInt(`0b${x.toString(2).padStart(64, '0').split('').reverse().join('')}`);
    const word = fc.bigInt({ min: 0n, max: 2n ** 64n - 1n });
    fc.assert(
      fc.property(word, word, data, (poly, init, bytes) => {
        const plain = crc64({ poly, init, xorout: 0n, reflected: false }, bytes);
        const other = crc64({ poly, init, xorout: 0n, reflected: true }, bytes.map(mirror));
        expect(other).toBe(mirror64(plain));
      }),
    );
  });

  test('an impossible width is refused', () => {
    expect(() => crc({ width: 40, poly: 1, init: 0, xorout: 0, reflected: false }, [1])).toThrow(
      'a CRC of width 40 is not possible here; 1 to 32 bits are',
    );
  });
});
