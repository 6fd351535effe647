/**
 * OBD mode 01 formulas: SAE J1979 as the public PID tables of aidilj.com and dashdyno.net give them (PIDs 04–11), public OBD
 * definition files (49, 4A, 5A, 61–63); 2F and 45 from memory. The example bytes are our own, put through those formulas
 * by hand.
 */
import { describe, expect, test } from 'vitest';
import { obdSupported, obdValues } from '../../src/can/obd.ts';

const hex = (text: string) => Uint8Array.from(text.split(' '), (b) => Number.parseInt(b, 16));

describe('OBD mode 01 values', () => {
  test.each([
    ['03 41 04 80', 50.196, '%'], // PID tables
    ['03 41 05 7B', 83, '°C'], // PID tables
    ['03 41 0B 65', 101, 'kPa'], // PID tables
    ['04 41 0C 1A F8', 1726, '1/min'], // PID tables
    ['03 41 0D 3C', 60, 'km/h'], // PID tables
    ['03 41 0E 80', 0, '°'], // PID tables
    ['03 41 0F 46', 30, '°C'], // PID tables
    ['04 41 10 01 9A', 4.1, 'g/s'], // PID tables
    ['03 41 11 33', 20, '%'], // PID tables
    ['03 41 2F 80', 50.196, '%'], // from memory
    ['03 41 45 1A', 10.196, '%'], // from memory
    ['03 41 49 40', 25.098, '%'], // OBD definition files
    ['03 41 5A 33', 20, '%'], // OBD definition files
    ['03 41 61 8C', 15, '%'], // OBD definition files
    ['03 41 62 87', 10, '%'], // OBD definition files
    ['04 41 63 01 90', 400, 'N·m'], // OBD definition files
  ])('%s', (text, value, unit) => {
    const payload = hex(`${text} 00 00 00 00`).subarray(0, 8);
    const [found] = obdValues(payload, 0, 8);
    expect(found?.value).toBeCloseTo(value, 3);
    expect(found?.kind.unit).toBe(unit);
  });

  test('an answer to PID 00 lists the PIDs from its top bit on', () => {
    expect(obdSupported(hex('06 41 00 98 18 00 01'), 0, 7)).toEqual([0x01, 0x04, 0x05, 0x0c, 0x0d, 0x20]); // SAE J1979: A7 = next PID, D0 = last
  });
});
