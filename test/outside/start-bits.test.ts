/**
 * Start bits in the numberings of tables against published examples. Sources: AUTOSAR CP System Template R23-11, pages on
 * the byte order of frames (numbering by the most significant bit, and a page that gives the least significant one); the
 * bit positions of SAE J1939-71 parameters, "byte.bit from 1".
 */
import { expect, test } from 'vitest';
import { fieldBits, writeBits } from '../../src/dictionary/bits.ts';
import { autosarStart, type Convention } from '../../src/dictionary/tables/places.ts';

const at = (
  bit: number,
  length: number,
  byteOrder: 'little' | 'big',
  convention: Convention,
  byte: number | null = null,
) => autosarStart({ byte, bit, length, byteOrder }, convention);

test('10 bits big-endian: most significant bit 4 and least significant bit 11 are the same field (page on frame byte order, System Template R23-11)', () => {
  expect(at(11, 10, 'big', 'lowest')).toBe(4); // its own convention: 11 where AUTOSAR says 4
  expect(at(4, 10, 'big', 'autosar')).toBe(4);
  expect(fieldBits({ start: 4, length: 10, byteOrder: 'big' })[0]).toBe(11);
  expect(at(2, 10, 'little', 'lowest')).toBe(2); // same page: 10 bits little-endian from 2, last bit 11
  expect(fieldBits({ start: 2, length: 10, byteOrder: 'little' }).at(-1)).toBe(11);
});

test('10 bits from start 5 fill E0 7F little-endian and 3F F0 big-endian (tests of a public AUTOSAR library, start 5, 10 bits)', () => {
  for (const [order, hex] of [
    ['little', 'e07f'],
    ['big', '3ff0'],
  ] as const) {
    const payload = new Uint8Array(2);
    writeBits(
      payload,
      0,
      { start: at(5, 10, order, 'autosar') as number, length: 10, byteOrder: order },
      0x3ff,
    );
    expect(Buffer.from(payload).toString('hex')).toBe(hex);
  }
});

test('parameters of SAE J1939 by byte and bit from 1 (bit positions of EEC1 and TSC1, SAE J1939-71)', () => {
  expect(at(1, 4, 'little', 'byte.bit from 1', 1)).toBe(0); // SPN 899, b1.1-4
  expect(at(5, 4, 'little', 'byte.bit from 1', 1)).toBe(4); // SPN 4154, b1.5-8
  expect(at(1, 16, 'little', 'byte.bit from 1', 4)).toBe(24); // SPN 190, b4-5
  expect(at(5, 4, 'little', 'byte.bit from 1', 8)).toBe(60); // SPN 4207, b8.5-8
  expect(at(0, 4, 'little', 'byte.bit from 1', 8)).toBeNull();
});

test('the 8-byte example PDU tiles all 64 bits, and only in the numbering of AUTOSAR (same library, signals 7/16 16/3 19/7 26/30 59/4, the first and last big-endian, update bits 60 to 63)', () => {
  const signals: [number, number, 'little' | 'big'][] = [
    [7, 16, 'big'],
    [16, 3, 'little'],
    [19, 7, 'little'],
    [26, 30, 'little'],
    [59, 4, 'big'],
    [60, 1, 'little'],
    [61, 1, 'little'],
    [62, 1, 'little'],
    [63, 1, 'little'],
  ];
  const bits = (convention: Convention) =>
    signals.flatMap(([start, length, byteOrder]) => {
      const first = at(start, length, byteOrder, convention);
      return first === null ? [] : fieldBits({ start: first, length, byteOrder });
    });
  expect(bits('autosar').sort((a, b) => a - b)).toEqual(Array.from({ length: 64 }, (_, bit) => bit));
  expect(new Set(bits('lowest')).size).toBeLessThan(64);
});
