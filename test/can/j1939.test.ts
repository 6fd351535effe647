import fc from 'fast-check';
import { expect, test } from 'vitest';
import { j1939Id, j1939Parts } from '../../src/can/j1939.ts';

test('every 29-bit identifier is rebuilt from its parts', () => {
  fc.assert(
    fc.property(fc.integer({ min: 0, max: 0x1fff_ffff }), (id) => {
      expect(j1939Id(j1939Parts(id))).toBe(id);
    }),
  );
});

test('a group with a destination has a number whose low byte is 0', () => {
  expect(j1939Parts(0x0c00ff11).parameterGroup & 0xff).toBe(0);
  expect(j1939Parts(0x0cefff11)).toMatchObject({ parameterGroup: 0xef00, destination: 255 });
  expect(j1939Parts(0x0cf0ff11)).toMatchObject({ parameterGroup: 0xf0ff, destination: 255 });
});
