/**
 * Check fields of published kinds, recovered from payloads without being told anything; then what was recovered is asked
 * for results that were published. Sources: CAT = catalogue of CRC algorithms carried by the Debian package
 * python3-crccheck 1.0, values over "123456789"; E2E = AUTOSAR PRS_E2EProtocol, example tables as quoted by two public
 * test suites (github handohun/autosar-e2e, src/profiles; a gtest file naming tables 6.42, 6.51, 6.86, 6.99, 6.101,
 * 6.102 of R23-11); VS = github COVESA/vsomeip, test/network_tests/e2e_tests.
 */
import { describe, expect, test } from 'vitest';
import { type CheckField, checkValue } from '../../src/can/check.ts';
import { crc } from '../../src/can/crc.ts';
import { settleChecks } from '../../src/findings/check.ts';
import { searchCheck } from '../../src/findings/checkSearch.ts';
import { findCounters } from '../../src/findings/counter.ts';
import type { FoundCheck } from '../../src/findings/model.ts';
import { movingBytes } from '../findings/protected.ts';
import { checkField, rowsOf, type Sender } from '../findings/traffic.ts';

const NINE = new TextEncoder().encode('123456789');
const F = 0xffff_ffff;

function recovered(sender: Omit<Sender, 'id'>): FoundCheck | null {
  const rows = rowsOf({ id: 0x155, ...sender });
  const counters = findCounters(rows, { periodS: 0.01, taken: new Uint8Array(8 * rows.length) });
  return settleChecks([searchCheck(rows, counters)])[0]?.check ?? null;
}

// name, width, polynomial, start, reflected, final exclusive-or, result over "123456789"
const CATALOGUE: [string, number, number, number, boolean, number, number][] = [
  ['CRC-8/SAE-J1850', 8, 0x1d, 0xff, false, 0xff, 0x4b], // CAT
  ['CRC-8/AUTOSAR', 8, 0x2f, 0xff, false, 0xff, 0xdf], // CAT
  ['CRC-8/OPENSAFETY', 8, 0x2f, 0x00, false, 0x00, 0x3e], // CAT
  ['CRC-8/SMBUS', 8, 0x07, 0x00, false, 0x00, 0xf4], // CAT
  ['CRC-8/ROHC', 8, 0x07, 0xff, true, 0x00, 0xd0], // CAT
  ['CRC-8/I-432-1', 8, 0x07, 0x00, false, 0x55, 0xa1], // CAT
  ['CRC-8/TECH-3250', 8, 0x1d, 0xff, true, 0x00, 0x97], // CAT
  ['CRC-8/I-CODE', 8, 0x1d, 0xfd, false, 0x00, 0x7e], // CAT
  ['CRC-8/MAXIM-DOW', 8, 0x31, 0x00, true, 0x00, 0xa1], // CAT
  ['CRC-8/DARC', 8, 0x39, 0x00, true, 0x00, 0x15], // CAT
  ['CRC-8/GSM-B', 8, 0x49, 0x00, false, 0xff, 0x94], // CAT
  ['CRC-8/CDMA2000', 8, 0x9b, 0xff, false, 0x00, 0xda], // CAT
  ['CRC-8/BLUETOOTH', 8, 0xa7, 0x00, true, 0x00, 0x26], // CAT
  ['CRC-8/DVB-S2', 8, 0xd5, 0x00, false, 0x00, 0xbc], // CAT
  ['CRC-12/CDMA2000', 12, 0xf13, 0xfff, false, 0x000, 0xd4d], // CAT
  ['CRC-15/CAN', 15, 0x4599, 0x0000, false, 0x0000, 0x059e], // CAT
  ['CRC-16/IBM-3740', 16, 0x1021, 0xffff, false, 0x0000, 0x29b1], // CAT; AUTOSAR CRC16
  ['CRC-16/ARC', 16, 0x8005, 0x0000, true, 0x0000, 0xbb3d], // CAT
  ['CRC-16/KERMIT', 16, 0x1021, 0x0000, true, 0x0000, 0x2189], // CAT
  ['CRC-16/MODBUS', 16, 0x8005, 0xffff, true, 0x0000, 0x4b37], // CAT
  ['CRC-17/CAN-FD', 17, 0x1685b, 0x00000, false, 0x00000, 0x04f03], // CAT
  ['CRC-21/CAN-FD', 21, 0x102899, 0x000000, false, 0x000000, 0x0ed841], // CAT
  ['CRC-32/ISO-HDLC', 32, 0x04c11db7, F, true, F, 0xcbf43926], // CAT
  ['CRC-32/AUTOSAR', 32, 0xf4acfb13, F, true, F, 0x1697d06a], // CAT
  ['CRC-32/ISCSI', 32, 0x1edc6f41, F, true, F, 0xe3069283], // CAT
];

describe('published CRCs, recovered from 200 payloads', () => {
  test.each(CATALOGUE)(
    '%s gives its published check value',
    (name, width, poly, init, reflected, xorout, result) => {
      const length = width > 16 ? 12 : 8;
      const start = 8 * length - width;
      const covers = Array.from({ length: start >> 3 }, (_, b) => b);
      const check = checkField({ start, length: width, width, poly, init, reflected, xorout, covers });
      const found = recovered({
        length,
        frames: 200,
        fill: movingBytes(width + poly),
        counter: { start: 32, length: 4, byteOrder: 'little', value: (i) => i % 16 },
        check,
      });
      expect(found).toMatchObject({ algorithm: 'crc', width, poly, reflected, standard: name });
      expect(crc(found as FoundCheck, NINE)).toBe(result);
    },
  );
});

interface Profile {
  field: CheckField;
  counter: { start: number; length: number; values: number };
  length?: number;
  frames?: number;
  /** Bytes after the counter that never move, by place. */
  fixed?: Record<number, number>;
}

/** A sender of the profile with signals in the bytes that are left. */
function protect({ field, counter, length = 8, frames = 600, fixed = {} }: Profile): FoundCheck | null {
  const move = movingBytes(3);
  const scratch = new Uint8Array(8);
  return recovered({
    length,
    frames,
    fill: (p, i) => {
      move(scratch, i);
      p.set(scratch.subarray(0, Math.min(6, length - 2)), 2);
      for (const [byte, value] of Object.entries(fixed)) p[Number(byte)] = value;
    },
    counter: {
      start: counter.start,
      length: counter.length,
      byteOrder: 'little',
      value: (i) => i % counter.values,
    },
    check: field,
  });
}

/** What the recovered check gives for a payload of zeros but for the given bytes. */
function valueFor(
  check: FoundCheck | null,
  bytes: Record<number, number>,
  count: number,
  length = 8,
): number {
  const payload = new Uint8Array(length);
  for (const [byte, value] of Object.entries(bytes)) payload[Number(byte)] = value;
  return checkValue(check as FoundCheck, 0x155, payload, 0, length, count);
}

const UPTO7 = [1, 2, 3, 4, 5, 6, 7];
const NIBBLE = { start: 8, length: 4, values: 15 };
const P1 = checkField({ start: 0, poly: 0x1d, covers: UPTO7 });
/** What a byte before seven others adds to the CRC of profile 1. */
const before = (byte: number) => crc(P1, [byte, 0, 0, 0, 0, 0, 0, 0]);

describe('AUTOSAR E2E profiles, recovered from made-up traffic', () => {
  test('profile 1 and 11 with both bytes of the data ID', () => {
    const found = protect({ field: { ...P1, prefix: [0x23, 0x01] }, counter: NIBBLE });
    expect(found).toMatchObject({ poly: 0x1d, start: 0, standard: 'AUTOSAR E2E profile 1 or 11' });
    expect(valueFor(found, {}, 0)).toBe(0xcc); // E2E: profile 11, both, data ID 0123, counter 0: CC 00 00 …
    expect(valueFor(found, { 1: 0x01 }, 1)).toBe(0x91); // E2E: counter 1: 91 01 00 …
  });

  test('profile 11 with the upper half of the data ID in the payload', () => {
    const low = { ...P1, prefix: [0x23, 0x00] };
    const found = protect({ field: low, counter: NIBBLE, fixed: { 1: 0x10 } });
    expect(found?.evidence.map((e) => e.text).join(' ')).toContain(
      'low byte 0x23 where its upper half is sent',
    );
    expect(valueFor(found, { 1: 0x10 }, 0)).toBe(0x2a); // E2E: profile 11, nibble, data ID 0123, counter 0: 2A 10 00 …
    expect(valueFor(found, { 1: 0x11 }, 1)).toBe(0x77); // E2E: counter 1: 77 11 00 …
  });

  test('profile 1 with the upper half of the data ID in the payload, other data', () => {
    const found = protect({ field: { ...P1, prefix: [0x73, 0x00] }, counter: NIBBLE, fixed: { 1: 0xa0 } });
    // VS: data ID 0A73, byte 1 = A0 + n, byte 2 = n, the rest FF
    const published = [0xf9, 0xe2, 0xcf, 0xd4, 0x95, 0x8e, 0xa3, 0xb8, 0x21, 0x3a]; // VS
    published.forEach((result, n) => {
      const bytes = { 1: 0xa0 + n, 2: n, 3: 255, 4: 255, 5: 255, 6: 255, 7: 255 };
      expect(valueFor(found, bytes, n)).toBe(result);
    });
  });

  test('profile 1 with low and high byte of the data ID in turn', () => {
    const perCounter = Array.from({ length: 16 }, (_, count) => before(count & 1 ? 0x01 : 0x23));
    const found = protect({ field: { ...P1, perCounter }, counter: NIBBLE, frames: 1500 });
    expect(found).toMatchObject({ standard: 'AUTOSAR E2E profile 1' });
    expect(found?.evidence.map((e) => e.text).join(' ')).toContain('bytes 0x23 and 0x01');
    expect([valueFor(found, {}, 0), valueFor(found, { 1: 1 }, 1)]).toEqual([0xce, 0x02]); // E2E: rule of the profile; the figures are computed, no published example is known
  });

  test('profile 2 and 22 with a list of data IDs', () => {
    const field = checkField({ start: 0, poly: 0x2f, init: 0xff, xorout: 0xff, covers: UPTO7, suffix: [0] });
    const last = { width: 8, poly: 0x2f, init: 0, xorout: 0, reflected: false };
    const perCounter = Array.from({ length: 16 }, (_, count) => crc(last, [count + 1]));
    const found = protect({
      field: { ...field, perCounter },
      counter: { start: 8, length: 4, values: 16 },
      frames: 1500,
    });
    expect(found).toMatchObject({ poly: 0x2f, start: 0, standard: 'AUTOSAR E2E profile 2 or 22' });
    expect(found?.evidence.map((e) => e.text).join(' ')).toContain(
      '01 02 03 04 05 06 07 08 09 0A 0B 0C 0D 0E 0F 10',
    );
    // E2E: profile 22, list 01 … 10, zero data, counter 1 … 15, 0
    const published = [
      0x1b, 0x98, 0x31, 0x0d, 0x18, 0x9b, 0x65, 0x08, 0x1d, 0x9e, 0x37, 0x0b, 0x1e, 0x9d, 0xcd, 0x0e,
    ]; // E2E
    published.forEach((result, k) => {
      const count = (k + 1) & 15;
      expect(valueFor(found, { 1: count }, count)).toBe(result);
    });
  });

  test('profile 5', () => {
    const field = checkField({
      start: 0,
      length: 16,
      width: 16,
      poly: 0x1021,
      init: 0xffff,
      covers: [2, 3, 4, 5, 6, 7],
      suffix: [0x34, 0x12],
    });
    const found = protect({ field, counter: { start: 16, length: 8, values: 256 } });
    expect(found).toMatchObject({
      standard: 'AUTOSAR E2E profile 5',
      suffix: [0x34, 0x12],
      byteOrder: 'little',
    });
    expect(valueFor(found, {}, 0)).toBe(0xca1c); // E2E: profile 5, data ID 1234, counter 0: 1C CA 00 …
  });

  test('profile 6', () => {
    const field = checkField({
      start: 7,
      length: 16,
      byteOrder: 'big',
      width: 16,
      poly: 0x1021,
      init: 0xffff,
      covers: [2, 3, 4, 5, 6, 7],
      suffix: [0x12, 0x34],
    });
    const counter = { start: 32, length: 8, values: 256 };
    const found = protect({ field, counter, fixed: { 2: 0, 3: 8 } });
    expect(found).toMatchObject({
      standard: 'AUTOSAR E2E profile 6',
      suffix: [0x12, 0x34],
      byteOrder: 'big',
    });
    expect(valueFor(found, { 3: 8 }, 0)).toBe(0xb155); // E2E: profile 6, data ID 1234, counter 0: B1 55 00 08 00 …
  });

  test('the CRC of profile 4 in a CAN FD payload', () => {
    const covers = [0, 1, 2, 3, 4, 5, 6, 7, 12, 13, 14, 15];
    const parts = { width: 32, poly: 0xf4acfb13, init: F, xorout: F, reflected: true } as const;
    const field = checkField({ start: 71, length: 32, byteOrder: 'big', covers, ...parts });
    const move = movingBytes(4);
    const scratch = new Uint8Array(8);
    const found = recovered({
      length: 16,
      frames: 400,
      fill: (p, i) => {
        move(scratch, i);
        p.set([0x00, 0x10, i >> 8, i & 255, 0x0a, 0x0b, 0x0c, 0x0d]);
        p.set([scratch[0], scratch[1], scratch[2], scratch[5]] as number[], 12);
      },
      check: field,
    });
    expect(found).toMatchObject({ start: 71, byteOrder: 'big', standard: 'CRC-32/AUTOSAR' });
    const header = { 1: 0x10, 4: 0x0a, 5: 0x0b, 6: 0x0c, 7: 0x0d };
    expect(valueFor(found, header, 0, 16)).toBe(0x862b0556); // E2E: profile 4, data ID 0A0B0C0D, counter 0, 16 bytes
  });
});
