import { expect, test } from 'vitest';
import { findAll } from '../../src/findings/find.ts';
import { interleavedContents } from '../../src/findings/interleaved.ts';
import { captureOf, driving, rowsOf, type Sender } from './traffic.ts';

const contents = [
  [0x00, 0xf8, 0x12],
  [0xfc, 0xff, 0x12],
  [0x84, 0xfa, 0x12],
];
const alternating = (count: number): Sender => ({
  id: 0x210,
  length: 3,
  frames: 200,
  fill: (p, i) => p.set(contents[i % count] as number[]),
});

test('frames that alternate between two or three contents are told from those that do more', () => {
  expect(interleavedContents(rowsOf(alternating(2)))).toBe(2);
  expect(interleavedContents(rowsOf(alternating(3)))).toBe(3);
  expect(interleavedContents(rowsOf({ ...alternating(2), fill: driving(3) }))).toBe(0);
  const seldom = {
    ...alternating(2),
    fill: (p: Uint8Array, i: number) => p.set(contents[i > 90 ? 1 : 0] as number[]),
  };
  expect(interleavedContents(rowsOf(seldom))).toBe(0);
});

test('their fields keep to bytes, none is stated with more than one half, and it is said why', async () => {
  const [message] = (await findAll(captureOf([alternating(2)]))).messages;
  const moving = message?.signals.filter((s) => s.kind !== 'constant') ?? [];
  expect(moving.length).toBeGreaterThanOrEqual(2);
  for (const { start, length, probability } of moving) {
    expect(start >> 3).toBe((start + length - 1) >> 3);
    expect(probability).toBeLessThanOrEqual(0.55);
  }
  expect(message?.open.join(' ')).toContain('The frames alternate between 2 contents');
});
