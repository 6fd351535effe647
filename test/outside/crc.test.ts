/**
 * CRC results published outside the project. Sources: CAT = catalogue of CRC algorithms carried by the Debian package
 * python3-crccheck 1.0; SWS = AUTOSAR SWS CRC Library (R20-11), example tables; J1850 = SAE J1850, table 1.
 */
import { describe, expect, test } from 'vitest';
import { crc, crc64 } from '../../src/can/crc.ts';

const NINE = new TextEncoder().encode('123456789');
const F = 0xffff_ffff;
const ONES = 2n ** 64n - 1n;
const bytes = (hex: string) => Uint8Array.from(hex.split(' '), (b) => Number.parseInt(b, 16));

// name, width, polynomial, start, reflected, final exclusive-or, result over ASCII "123456789"
const CATALOGUE: [string, number, number, number, boolean, number, number][] = [
  ['CRC-8/SAE-J1850', 8, 0x1d, 0xff, false, 0xff, 0x4b], // CAT; AUTOSAR CRC8 in SWS
  ['CRC-8/GSM-A', 8, 0x1d, 0x00, false, 0x00, 0x37], // CAT
  ['CRC-8/AUTOSAR', 8, 0x2f, 0xff, false, 0xff, 0xdf], // CAT; CRC8H2F in SWS
  ['CRC-8/OPENSAFETY', 8, 0x2f, 0x00, false, 0x00, 0x3e], // CAT
  ['CRC-8/SMBUS', 8, 0x07, 0x00, false, 0x00, 0xf4], // CAT
  ['CRC-8/ROHC', 8, 0x07, 0xff, true, 0x00, 0xd0], // CAT
  ['CRC-8/I-432-1', 8, 0x07, 0x00, false, 0x55, 0xa1], // CAT
  ['CRC-8/TECH-3250', 8, 0x1d, 0xff, true, 0x00, 0x97], // CAT
  ['CRC-8/I-CODE', 8, 0x1d, 0xfd, false, 0x00, 0x7e], // CAT
  ['CRC-8/MIFARE-MAD', 8, 0x1d, 0xc7, false, 0x00, 0x99], // CAT
  ['CRC-8/MAXIM-DOW', 8, 0x31, 0x00, true, 0x00, 0xa1], // CAT
  ['CRC-8/NRSC-5', 8, 0x31, 0xff, false, 0x00, 0xf7], // CAT
  ['CRC-8/DARC', 8, 0x39, 0x00, true, 0x00, 0x15], // CAT
  ['CRC-8/GSM-B', 8, 0x49, 0x00, false, 0xff, 0x94], // CAT
  ['CRC-8/CDMA2000', 8, 0x9b, 0xff, false, 0x00, 0xda], // CAT
  ['CRC-8/LTE', 8, 0x9b, 0x00, false, 0x00, 0xea], // CAT
  ['CRC-8/WCDMA', 8, 0x9b, 0x00, true, 0x00, 0x25], // CAT
  ['CRC-8/BLUETOOTH', 8, 0xa7, 0x00, true, 0x00, 0x26], // CAT
  ['CRC-8/DVB-S2', 8, 0xd5, 0x00, false, 0x00, 0xbc], // CAT
  ['CRC-15/CAN', 15, 0x4599, 0x0000, false, 0x0000, 0x059e], // CAT; polynomial also CAN in Automation, "CRC in CAN frames"
  ['CRC-16/CCITT-FALSE', 16, 0x1021, 0xffff, false, 0x0000, 0x29b1], // CAT; AUTOSAR CRC16 in SWS
  ['CRC-16/ARC', 16, 0x8005, 0x0000, true, 0x0000, 0xbb3d], // CAT
  ['CRC-16/XMODEM', 16, 0x1021, 0x0000, false, 0x0000, 0x31c3], // CAT
  ['CRC-16/KERMIT', 16, 0x1021, 0x0000, true, 0x0000, 0x2189], // CAT
  ['CRC-16/MODBUS', 16, 0x8005, 0xffff, true, 0x0000, 0x4b37], // CAT
  ['CRC-17/CAN-FD', 17, 0x1685b, 0x00000, false, 0x00000, 0x04f03], // CAT
  ['CRC-21/CAN-FD', 21, 0x102899, 0x000000, false, 0x000000, 0x0ed841], // CAT
  ['CRC-32/ISO-HDLC', 32, 0x04c11db7, F, true, F, 0xcbf43926], // CAT
  ['CRC-32/AUTOSAR', 32, 0xf4acfb13, F, true, F, 0x1697d06a], // CAT; CRC32P4 in SWS
  ['CRC-32C', 32, 0x1edc6f41, F, true, F, 0xe3069283], // CAT
];

// data, then CRC8, CRC8H2F, CRC16, CRC32, CRC32P4, CRC64 as the tables print them
const AUTOSAR: [string, number, number, number, number, number, bigint][] = [
  ['00 00 00 00', 0x59, 0x12, 0x84c0, 0x2144df1c, 0x6fb32240, 0xf4a586351e1b9f4bn], // SWS
  ['F2 01 83', 0x37, 0xc2, 0xd374, 0x24ab9d77, 0x4f721a25, 0x319c27668164f1c6n], // SWS
  ['0F AA 00 55', 0x79, 0xc6, 0x2023, 0xb6c9b287, 0x20662df8, 0x54c5d0f7667c1575n], // SWS
  ['00 FF 55 11', 0xb8, 0x77, 0xb8f9, 0x32a06212, 0x9bd7996e, 0xa63822be7e0704e6n], // SWS
  ['33 22 55 AA BB CC DD EE FF', 0xcb, 0x11, 0xf53f, 0xb0ae863d, 0xa65a343d, 0x701eceb219a8e5d5n], // SWS
  ['92 6B 55', 0x8c, 0x33, 0x0745, 0x9cdea29b, 0xee688a78, 0x5faa96a9b59f3e4en], // SWS
  ['FF FF FF FF', 0x74, 0x6c, 0x1d0f, 0xffffffff, 0xffffffff, 0xffffffff00000000n], // SWS
];

describe('published CRC results', () => {
  test.each(CATALOGUE)('%s over "123456789"', (_name, width, poly, init, reflected, xorout, result) => {
    expect(crc({ width, poly, init, xorout, reflected }, NINE)).toBe(result);
  });

  test('CRC-64/XZ and CRC-64/ECMA-182 over "123456789"', () => {
    const poly = 0x42f0e1eba9ea3693n;
    expect(crc64({ poly, init: ONES, xorout: ONES, reflected: true }, NINE)).toBe(0x995dc9bbdf1939fan); // CAT; AUTOSAR CRC64 in SWS
    expect(crc64({ poly, init: 0n, xorout: 0n, reflected: false }, NINE)).toBe(0x6c40df5f0b497347n); // CAT
  });

  test.each(AUTOSAR)('AUTOSAR example %s', (data, crc8, h2f, crc16, crc32, p4, c64) => {
    const d = bytes(data);
    expect(crc({ width: 8, poly: 0x1d, init: 0xff, xorout: 0xff, reflected: false }, d)).toBe(crc8); // SWS; also J1850
    expect(crc({ width: 8, poly: 0x2f, init: 0xff, xorout: 0xff, reflected: false }, d)).toBe(h2f); // SWS
    expect(crc({ width: 16, poly: 0x1021, init: 0xffff, xorout: 0, reflected: false }, d)).toBe(crc16); // SWS
    expect(crc({ width: 32, poly: 0x04c11db7, init: F, xorout: F, reflected: true }, d)).toBe(crc32); // SWS
    expect(crc({ width: 32, poly: 0xf4acfb13, init: F, xorout: F, reflected: true }, d)).toBe(p4); // SWS
    expect(crc64({ poly: 0x42f0e1eba9ea3693n, init: ONES, xorout: ONES, reflected: true }, d)).toBe(c64); // SWS
  });

  test('a J1850 frame with its CRC', () => {
    const p = { width: 8, poly: 0x1d, init: 0xff, xorout: 0xff, reflected: false };
    expect(crc(p, bytes('00 C0 DF AC AA 07 40'))).toBe(0x6c); // elektronik-keller.de, page on CRC-8 J1850
    expect(crc({ ...p, xorout: 0 }, bytes('00 C0 DF AC AA 07 40 6C'))).toBe(0xc4); // residue C4: SAE J1850, clause 5.4.1 g
  });
});
