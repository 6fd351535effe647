/**
 * J1939 identifiers and one published payload. JR = layout in the Linux kernel's Documentation/networking/j1939.rst;
 * GEN = a generator set controller's manual, "Option J", page 9; PGN tables: github leandrogithubf/buslab-socket_full-php.
 */
import { describe, expect, test } from 'vitest';
import { j1939Id, j1939Parts } from '../../src/can/j1939.ts';
import { readBits } from '../../src/dictionary/bits.ts';

describe('J1939 identifiers', () => {
  test.each([
    [0x0cf00400, 3, 61444, 0, 255], // GEN: EEC1
    [0x18fef121, 6, 65265, 33, 255], // computed from JR: CCVS
    [0x0c000011, 3, 0, 17, 0], // computed from JR: TSC1
    [0x18f0090b, 6, 61449, 11, 255], // computed from JR: VDC2
    [0x18ea00f9, 6, 59904, 249, 0], // computed from JR: request
    [0x18eeff21, 6, 60928, 33, 255], // computed from JR: address claim
    [0x09f11203, 2, 127250, 3, 255], // computed from JR: NMEA 2000 heading
  ])('identifier %i divides into its parts and back', (id, priority, parameterGroup, source, destination) => {
    const parts = { priority, parameterGroup, source, destination };
    expect(j1939Parts(id)).toEqual(parts);
    expect(j1939Id(parts)).toBe(id);
  });

  test('the published EEC1 payload means 700 revolutions a minute', () => {
    const payload = Uint8Array.of(0xff, 0x7d, 0x7d, 0xe0, 0x15, 0xff, 0xf0, 0xff); // GEN
    const raw = readBits(payload, 0, { start: 24, length: 16, byteOrder: 'little' }); // SPN 190: bytes 4–5, PGN tables
    expect(raw * 0.125).toBe(700); // GEN
    expect(readBits(payload, 0, { start: 8, length: 8, byteOrder: 'little' }) - 125).toBe(0); // GEN: demanded torque 0 %
  });
});
