import { expect, test } from 'vitest';
import { errorMessageOf, errorTypeOf } from '../../../src/capture/mdf/errorKinds.ts';

test('each ErrorType becomes the error message that gives the same ErrorType back', () => {
  for (let type = 0; type <= 5; type++) {
    const data = new Uint8Array(8).fill(0xff);
    const id = errorMessageOf(type, data);
    expect(errorTypeOf(id, data)).toBe(type);
    // linux/can/error.h, from memory: a missing acknowledgement is class 0x20, all other kinds violate the protocol, 0x08.
    expect(id).toBe(type === 5 ? 0x20 : 0x08);
  }
});

test('error messages of other classes, as bus-off, have the ErrorType other', () => {
  // linux/can/error.h, from memory: 0x40 is bus-off, 0x04 a state of the controller.
  expect(errorTypeOf(0x40, new Uint8Array(8))).toBe(0);
  expect(errorTypeOf(0x04, Uint8Array.of(0, 0x04, 0, 0, 0, 0, 0, 0))).toBe(0);
  expect(errorTypeOf(0x08, new Uint8Array(0))).toBe(0);
});
