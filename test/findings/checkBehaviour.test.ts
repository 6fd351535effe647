import { describe, expect, test } from 'vitest';
import {
  changesWithTheRest,
  flipsPerBit,
  hasNoiseByte,
  livelyBits,
  noiseOf,
} from '../../src/findings/checkBehaviour.ts';
import { checkField, random, rowsOf } from './traffic.ts';

/** Byte 0 counts, byte 1 is noise, byte 2 flips one bit at every frame, byte 7 is `last`. */
function rows(last: (i: number, dice: () => number) => number) {
  const dice = random(17);
  const fill = (p: Uint8Array, i: number) => {
    p.set([i & 255, Math.floor(dice() * 256), i & 1]);
    p[7] = last(i, dice);
  };
  return rowsOf({ id: 1, length: 8, frames: 400, fill });
}

describe('a check byte', () => {
  const field = checkField({ start: 56, covers: [0, 1, 2, 3, 4, 5, 6] });

  test('changes when the rest does, all but once in 256', () => {
    expect(
      changesWithTheRest(
        rows((_, dice) => Math.floor(dice() * 256)),
        field,
      ),
    ).toBe(true);
  });

  test('is not one that stays while the rest moves', () => {
    expect(
      changesWithTheRest(
        rows((i) => (i >> 3) & 255),
        field,
      ),
    ).toBe(false);
  });

  test('may stay when only bytes move that it does not cover', () => {
    const narrow = { ...field, covers: [3, 4] };
    expect(
      changesWithTheRest(
        rows(() => 9),
        narrow,
      ),
    ).toBe(true);
  });
});

test('flips are counted per bit and step', () => {
  const flips = flipsPerBit(rows(() => 0));
  expect(flips[16]).toBe(1);
  expect(flips[17]).toBe(0);
  expect(flips[0]).toBe(1);
  expect(flips[1]).toBeCloseTo(0.5, 1);
  expect(flips[8]).toBeGreaterThan(0.4);
});

test('bits of a check are lively, those of a slow count and still ones are not', () => {
  const lively = livelyBits(rows((i) => i >> 6));
  expect(Array.from(lively.subarray(8, 16))).toEqual([1, 1, 1, 1, 1, 1, 1, 1]);
  expect(Array.from(lively.subarray(48))).toEqual(new Array(16).fill(0));
});

test('noise is harder to foretell than a counter, and is what a check byte looks like', () => {
  const some = rows(() => 0);
  const byte = (b: number) => ({ start: 8 * b, length: 8, byteOrder: 'little' as const });
  expect(noiseOf(some, byte(1))).toBeGreaterThan(5 * noiseOf(some, byte(2)));
  expect(hasNoiseByte(some)).toBe(true);
  const quiet = rowsOf({ id: 1, length: 4, frames: 300, fill: (p, i) => p.fill(i >> 4) });
  expect(hasNoiseByte(quiet)).toBe(false);
});
