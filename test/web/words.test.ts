import { expect, test } from 'vitest';
import {
  bytesWords,
  checkWords,
  counterWords,
  durationWords,
  keyOf,
  rangesWords,
  scaleWords,
  timeWords,
} from '../../web/words.ts';

const crc = {
  algorithm: 'crc',
  width: 8,
  poly: '0x2F',
  init: '0xFF',
  xorout: '0xFF',
  reflected: false,
  covers: [0, 1, 2, 4],
  prefix: '',
  suffix: '',
  idBytes: [],
  perCounter: null,
  standard: '',
} as const;

test('a check field is told with every parameter that differs from nothing', () => {
  expect(checkWords({ ...crc, covers: [...crc.covers], idBytes: [] })).toBe(
    'CRC-8, 0x2F, from 0xFF, xor 0xFF, over bytes 0–2, 4',
  );
  expect(
    checkWords({
      ...crc,
      algorithm: 'sum',
      init: '0x0',
      xorout: '0x00',
      reflected: true,
      covers: [1],
      prefix: '0A',
      suffix: '0B',
      idBytes: [0, 1],
      perCounter: [1, 2],
      standard: 'a standard',
    }),
  ).toBe(
    'sum (a standard), low bit first, after 0A, before 0B, identifier byte 0, 1 folded in, a constant per counter value, over byte 1',
  );
});

test('a counter tells its step and what it skips', () => {
  expect(counterWords({ step: 1, skip: [15] })).toBe('+1, skips 15');
  expect(counterWords({ step: -2, skip: [] })).toBe('−2');
});

test('scale and offset are told with their signs and unit', () => {
  expect(scaleWords(0.1, -40, '°C')).toBe('× 0.1 − 40 °C');
  expect(scaleWords(1, 0, '')).toBe('× 1');
});

test('sizes, times and ranges are told in words', () => {
  expect([bytesWords(1), bytesWords(48_293), bytesWords(2.5e9)]).toEqual(['1 byte', '48.3 kB', '2.5 GB']);
  expect([durationWords(3.14), durationWords(125.2)]).toEqual(['3.1 s', '2 min 5 s']);
  expect(timeWords('2026-11-24T08:45:01.123456Z')).toBe('2026-11-24 08:45 UTC');
  expect(rangesWords([])).toBe('no byte');
});

test('the marks of fields go on after z', () => {
  expect([0, 25, 26, 27, 701, 702].map(keyOf)).toEqual(['a', 'z', 'aa', 'ab', 'zz', 'aaa']);
});
