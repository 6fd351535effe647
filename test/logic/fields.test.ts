import fc from 'fast-check';
import { expect, test } from 'vitest';
import { readRaw, writeRaw } from '../../src/can/bits.ts';
import { ProgramBuilder } from '../../src/logic/builder.ts';
import { extract, extractBit, type Field, insert, pack } from '../../src/logic/fields.ts';
import { interpret } from '../../src/logic/interpret.ts';

const SEED = 20261125;
const BYTES = 8;

const fields: fc.Arbitrary<Field> = fc
  .record({
    start: fc.nat(8 * BYTES - 1),
    length: fc.integer({ min: 1, max: 31 }),
    byteOrder: fc.constantFrom('little' as const, 'big' as const),
    signed: fc.constantFrom(false, true, 'magnitude' as const),
  })
  .filter((f) => {
    const behind =
      f.byteOrder === 'little' ? 8 * BYTES - f.start : 8 * (BYTES - 1 - (f.start >> 3)) + (f.start % 8) + 1;
    return f.length <= behind;
  });

const payloads = fc.uint8Array({ minLength: BYTES, maxLength: BYTES });

function byteInputs(b: ProgramBuilder) {
  return Array.from({ length: BYTES }, (_, i) => b.input(`byte_${i}`, 0, 255));
}

function range(f: Field): { lo: number; hi: number } {
  const hi = 2 ** (f.length - (f.signed === false ? 0 : 1)) - 1;
  return { lo: f.signed === false ? 0 : f.signed === true ? -hi - 1 : 0 - hi, hi };
}

test('a field extracted by a program is the field that the can room reads, in either byte order and sign', () => {
  console.log(`seed ${SEED}`);
  fc.assert(
    fc.property(fields, payloads, (field, payload) => {
      const b = new ProgramBuilder('trial', 'A trial.');
      const value = extract(b, byteInputs(b), field);
      b.output('value', value);
      b.output('bit', extractBit(b, constants(b, payload), field.start));
      expect(b.interval(value)).toEqual(range(field));
      const { outputs } = interpret(b.finish(), [], payload);
      expect(outputs[0]).toBe(readRaw(payload, 0, field));
      expect(outputs[1]).toBe((payload[field.start >> 3]! >> (field.start % 8)) & 1);
    }),
    { seed: SEED, numRuns: 300 },
  );
});

function constants(b: ProgramBuilder, payload: Uint8Array) {
  return Array.from(payload, (v) => b.const(v));
}

test('a field inserted or packed by a program is the field that the can room writes', () => {
  fc.assert(
    fc.property(fields, payloads, fc.double({ min: 0, max: 1, noNaN: true }), (field, payload, part) => {
      const { lo, hi } = range(field);
      const value = lo + Math.round((hi - lo) * part);
      const b = new ProgramBuilder('trial', 'A trial.');
      const bytes = byteInputs(b);
      const given = b.input('given', lo, hi);
      insert(b, bytes, field, given).forEach((byte, i) => {
        b.output(`changed_${i}`, byte);
      });
      pack(b, BYTES, [{ field, value: given }], [...payload]).forEach((byte, i) => {
        expect(b.interval(byte).lo).toBeGreaterThanOrEqual(0);
        expect(b.interval(byte).hi).toBeLessThanOrEqual(255);
        b.output(`packed_${i}`, byte);
      });
      const expected = Uint8Array.from(payload);
      writeRaw(expected, 0, field, value);
      const { outputs } = interpret(b.finish(), [], [...payload, value]);
      expect([...outputs]).toEqual([...expected, ...expected]);
    }),
    { seed: SEED, numRuns: 300 },
  );
});

test('a field that does not fit, a value that does not fit and two fields on one bit are refused', () => {
  const b = new ProgramBuilder('trial', 'A trial.');
  const bytes = byteInputs(b).slice(0, 2);
  const at = (start: number, length: number): Field => ({
    start,
    length,
    byteOrder: 'little',
    signed: false,
  });
  expect(() => extract(b, bytes, at(9, 8))).toThrow('does not fit a payload of 2 bytes');
  expect(() => extract(b, bytes, at(0, 32))).toThrow('at most 31');
  expect(() => insert(b, bytes, at(0, 4), b.const(16))).toThrow(
    'a value of 16 … 16 does not fit the field at bit 0 (4 bits, 0 … 15)',
  );
  expect(() =>
    pack(b, 2, [
      { field: at(0, 5), value: b.const(1) },
      { field: at(4, 5), value: b.const(1) },
    ]),
  ).toThrow('two fields share bits of byte 0');
});
