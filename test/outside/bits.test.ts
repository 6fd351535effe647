/**
 * Bit packing against published layouts. ARX = github DanielT/autosar-data-abstraction, unit tests and diagram of its
 * signal mappings; VEN = a vendor's page "frame byte bit order" on AUTOSAR CP System Template R23-11.
 */
import { describe, expect, test } from 'vitest';
import { type BitField, fieldBits, sharedBits, writeBits } from '../../src/dictionary/bits.ts';

const field = (start: number, length: number, byteOrder: 'little' | 'big'): BitField => ({
  start,
  length,
  byteOrder,
});

function packed(f: BitField, value: number, bytes: number): number[] {
  const payload = new Uint8Array(bytes);
  writeBits(payload, 0, f, value);
  return [...payload];
}

describe('published bit layouts', () => {
  test('fields full of ones fill the bits that AUTOSAR gives them', () => {
    expect(packed(field(0, 2, 'little'), 0b11, 1)).toEqual([0x03]); // ARX
    expect(packed(field(5, 10, 'little'), 0x3ff, 2)).toEqual([0xe0, 0x7f]); // ARX
    expect(packed(field(5, 10, 'big'), 0x3ff, 2)).toEqual([0x3f, 0xf0]); // ARX
    expect(packed(field(0, 32, 'little'), 0xffff_ffff, 4)).toEqual([255, 255, 255, 255]); // ARX
    expect(packed(field(7, 32, 'big'), 0xffff_ffff, 4)).toEqual([255, 255, 255, 255]); // ARX
  });

  test('a message of mixed byte orders and update bits tiles its 64 bits without overlap', () => {
    const fields = [
      field(7, 16, 'big'), // ARX, with the next eight
      field(60, 1, 'little'),
      field(16, 3, 'little'),
      field(61, 1, 'little'),
      field(19, 7, 'little'),
      field(62, 1, 'little'),
      field(26, 30, 'little'),
      field(63, 1, 'little'),
      field(59, 4, 'big'),
    ];
    expect(fields.flatMap(fieldBits).sort((a, b) => a - b)).toEqual(Array.from({ length: 64 }, (_, i) => i));
    const overlaps = fields.flatMap((a, i) => fields.slice(i + 1).flatMap((b) => sharedBits(a, b)));
    expect(overlaps).toEqual([]);
  });

  test('ten bits from the published starting points end where the page says', () => {
    expect(fieldBits(field(2, 10, 'little')).at(-1)).toBe(11); // VEN
    expect(fieldBits(field(4, 10, 'big'))[0]).toBe(11); // VEN: most significant bit 4, least significant 11
  });

  test('a value in a big-endian field that crosses a byte', () => {
    expect(packed(field(5, 10, 'big'), 0x2a5, 2)).toEqual([0x2a, 0x50]); // own count from the rule of ARX, no published counterpart
  });
});
