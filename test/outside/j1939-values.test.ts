/**
 * Values in J1939 payloads. PGT = public PGN and SPN tables (github leandrogithubf/buslab-socket_full-php, PGN.php, SPN.php);
 * ODD = a public page on TSC1 (oddwheels); THR = two public threads quoting the SAE text of the TSC1 checksum; PEC = an engine
 * manual (PEC017, page 48). Values marked "own" were computed by the formula before this code was written.
 */
import { describe, expect, test } from 'vitest';
import { readBits, writeBits } from '../../src/can/bits.ts';
import { controlChecksum } from '../../src/can/j1939.ts';
import { hex } from '../can/transport/collect.ts';

const field = (byte: number, bit: number, length: number) => ({
  start: 8 * (byte - 1) + bit - 1,
  length,
  byteOrder: 'little' as const,
});

describe('the torque and speed control command TSC1', () => {
  test('asks for 1200 revolutions a minute in speed mode, all other bits 1', () => {
    const payload = new Uint8Array(8).fill(0xff);
    writeBits(payload, 0, field(1, 1, 2), 1); // SPN 695 control mode, bits 1–2: 1 = speed; PGT
    writeBits(payload, 0, field(2, 1, 16), 1200 / 0.125); // SPN 898, bytes 2–3, 0.125 1/min; PGT
    expect([...payload.subarray(0, 3)]).toEqual([0xfd, 0x80, 0x25]); // ODD
    writeBits(payload, 0, field(1, 1, 2), 0);
    expect(payload[0]).toBe(0xfc); // ODD: off
  });

  test('carries counter and checksum in its last byte', () => {
    const expected = hex('40 51 62 73 04 35 46 57'); // own, by THR
    for (let counter = 0; counter < 8; counter++) {
      const payload = hex('FD 80 25 FF FF FF FF 00');
      payload[7] = counter;
      const check = controlChecksum(0x0c000011, payload, 0); // THR
      expect((check << 4) | counter).toBe(expected[counter]);
    }
  });

  test('has two published checksums, which differ in about half of all frames', () => {
    let state = 20261125;
    let differ = 0;
    const payload = new Uint8Array(8);
    for (let n = 0; n < 20_000; n++) {
      for (let k = 0; k < 8; k++) {
        // xorshift32 (Marsaglia 2003), seed 20261125
        state ^= state << 13;
        state ^= state >>> 17;
        state ^= state << 5;
        payload[k] = state;
      }
      const [masked, unmasked] = [
        controlChecksum(0x0c000011, payload, 0), // THR
        controlChecksum(0x0c000011, payload, 0, 'unmasked'), // PEC
      ];
      if (masked !== unmasked) differ++;
    }
    expect(differ / 20_000).toBeGreaterThan(0.45); // own: 53 % of random frames
    expect(differ / 20_000).toBeLessThan(0.6);
  });
});

describe('raw values that mean nothing moves', () => {
  test.each([
    ['steering wheel angle (SPN 1807)', 32127, 1 / 1024, -31.374, 0.00003],
    ['yaw rate (SPN 1808)', 32113, 1 / 8192, -3.92, 0.0002],
    ['lateral acceleration (SPN 1809)', 32127, 1 / 2048, -15.687, 0.0003],
    ['longitudinal acceleration (SPN 1810)', 125, 0.1, -12.5, 1e-9],
  ])('%s', (_, raw, scale, offset, within) => {
    const payload = new Uint8Array(8);
    writeBits(payload, 0, field(1, 1, 16), raw);
    const value = readBits(payload, 0, field(1, 1, 16)) * scale + offset; // scale and offset: PGT; zero point: own
    expect(Math.abs(value)).toBeLessThan(within);
  });
});
