/**
 * Stuff bits of CAN FD frames. CONF = frames of a public conformance test for ISO 16845-1, clauses 8.1.6 and 8.1.7; it
 * leaves the counts to its own model, so they are this project's own counts, made independently of this code. The copy of
 * the frames at hand does not say which have their rate and state bits set: given here are settings that agree.
 */
import { expect, test } from 'vitest';
import { FLAG } from '../../src/can/frame.ts';
import { fdFrameBits, frameBits } from '../../src/can/length.ts';

const RATE = FLAG.bitRateSwitch;
const STATE = FLAG.errorState;

test.each([
  [0x078, [0xf8, ...Array(47).fill(0x78)], RATE, 98],
  [0x47c, Array(8).fill(0x3c), RATE, 18], // its comment prints 4C7, its array 47C; 4C7 gives 16
  [0x41e, Array(48).fill(0x1e), RATE | STATE, 99],
  [0x20f, Array(64).fill(0x0f), STATE, 130],
  [0x107, Array(64).fill(0x87), RATE, 129],
  [0x7c3, Array(3).fill(0xc3), 0, 9],
  [0x3e1, Array(3).fill(0xe1), RATE, 8],
  [0x1f0, [0xf0], RATE, 3],
  [0x000, [], RATE, 2],
])('frame %# takes its stuff bits', (id, data, bits, stuffed) => {
  const flags = FLAG.fd | bits;
  const { nominal, data: fast } = fdFrameBits(id, flags, Uint8Array.from(data), 0, data.length); // frame: CONF; count: own
  expect(nominal + fast - frameBits(flags, data.length).least).toBe(stuffed);
});
