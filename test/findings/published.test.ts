import { expect, test } from 'vitest';
import { crc } from '../../src/can/crc.ts';
import { PUBLISHED_CRCS, publishedName } from '../../src/findings/published.ts';

// Source of the check values: the CRC catalogue in the Debian package python3-crccheck 1.0, value over "123456789".
test.each(PUBLISHED_CRCS)('$name gives its published check value', (set) => {
  const digits = Array.from('123456789', (c) => c.charCodeAt(0));
  expect(crc(set, digits)).toBe(set.check);
  expect(publishedName(set)).toBe(set.name);
});

test('parameters that nobody published have no name', () => {
  expect(publishedName({ width: 8, poly: 0x1d, init: 0x12, xorout: 0xff, reflected: false })).toBe('');
});
