import { expect, test } from 'vitest';
import { blocksOf } from '../../../src/findings/cut/block.ts';
import { laneOf } from '../../../src/findings/cut/lane.ts';
import { sampleOf } from '../../../src/findings/cut/sample.ts';
import { movingBits } from '../../../src/findings/rows.ts';
import { random, rowsOf } from '../traffic.ts';

function blocks(fill: (payload: Uint8Array, i: number) => void, taken: number[] = []) {
  const rows = rowsOf({ id: 9, length: 8, frames: 200, fill });
  const free = new Uint8Array(64);
  for (const bit of taken) free[bit] = 1;
  const lane = laneOf('little', 8, movingBits(rows), free);
  return blocksOf(rows, sampleOf(rows, 64), lane);
}

const dice = random(4);
const contents = Array.from({ length: 5 }, () =>
  Uint8Array.from({ length: 8 }, () => Math.floor(dice() * 256)),
);

test('a block reaches from a byte edge to the end and knows its contents', () => {
  const found = blocks((p, i) => p.set(contents[i % 5] as Uint8Array));
  expect(found).toHaveLength(4);
  for (const { block } of found) expect(block).toMatchObject({ contents: 5, old: 1 - 5 / 200 });
  // Which of five contents comes next is told by the one before: nearly nothing beyond the contents themselves.
  const [whole] = found;
  expect(whole?.cost).toBeLessThan(6 * 64 * Math.log(2));
});

test('contents that never come back are as dear as their bits', () => {
  const [whole] = blocks((p) => {
    for (let b = 0; b < 8; b++) p[b] = Math.floor(dice() * 256);
  });
  expect(whole?.block?.contents).toBe(200);
  expect(whole?.cost).toBeGreaterThan(200 * 64 * Math.log(2));
});

test('no block reaches over bits that are explained otherwise', () => {
  expect(blocks((p, i) => p.set(contents[i % 5] as Uint8Array), [60])).toEqual([]);
  expect(blocks((p, i) => p.set(contents[i % 5] as Uint8Array), [3])).toHaveLength(3);
});
