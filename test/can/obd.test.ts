import { describe, expect, test } from 'vitest';
import { obdSupported, obdValues } from '../../src/can/obd.ts';

const hex = (text: string) => Uint8Array.from(text.split(' '), (b) => Number.parseInt(b, 16));
const short = (text: string) =>
  obdValues(hex(text), 0, hex(text).length).map((v) => `${v.kind.name} ${v.value}`);

describe('OBD answers', () => {
  test('one answer may hold several values', () => {
    expect(short('05 41 0D 3C 05 7B')).toEqual(['vehicle speed 60', 'coolant temperature 83']);
  });

  test('reading stops where the length of a value is not known or the answer ends', () => {
    expect(short('06 41 0D 3C 99 01 02')).toEqual(['vehicle speed 60']);
    expect(short('03 41 0C 1A F8')).toEqual([]);
  });

  test('frames that are no answer of mode 01 give nothing', () => {
    for (const text of ['02 01 0C', '03 7F 01 12', '10 14 41 0C', '04 41 0C 1A', '00', '04 62 0C 1A F8']) {
      expect(short(text)).toEqual([]);
    }
    expect(obdValues(new Uint8Array(0), 0, 0)).toEqual([]);
    expect(obdSupported(hex('06 41 0C 98 18 00 01'), 0, 7)).toEqual([]);
    expect(obdSupported(hex('04 41 00 98 18'), 0, 5)).toEqual([]);
  });

  test('a payload in the middle of a buffer is read from its own start', () => {
    expect(obdValues(hex('FF FF 03 41 0D 3C 00'), 2, 5)[0]?.value).toBe(60);
  });
});
