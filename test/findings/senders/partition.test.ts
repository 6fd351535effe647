import { expect, test } from 'vitest';
import {
  type PartitionSample,
  pointPartition,
  samplePartitions,
} from '../../../src/findings/senders/partition.ts';

function sampled(n: number, evidence: (i: number, j: number) => number): PartitionSample {
  const e = new Float64Array(n * n);
  for (let i = 0; i < n; i++) for (let j = 0; j < n; j++) if (i !== j) e[i * n + j] = evidence(i, j);
  const steps = samplePartitions(e, n);
  let step = steps.next();
  while (!step.done) step = steps.next();
  return step.value;
}

test('two clear groups are found and nothing else', () => {
  const { together, counts } = sampled(10, (i, j) => (i % 2 === j % 2 ? 5 : -3));
  expect(
    pointPartition(together, 10)
      .map((g) => g.join())
      .sort(),
  ).toEqual(['0,2,4,6,8', '1,3,5,7,9']);
  expect(counts.filter((n) => n === 2).length).toBeGreaterThan(0.9 * counts.length);
});

test('without evidence the number of groups stays open', () => {
  const { together, counts } = sampled(10, () => 0);
  expect(Math.max(...counts) - Math.min(...counts)).toBeGreaterThan(2);
  expect(together.filter((p, at) => at % 11 !== 0 && p > 0.6)).toHaveLength(0);
});

test('one message, and none, are no trouble', () => {
  expect(sampled(1, () => 0).counts.every((n) => n === 1)).toBe(true);
  expect(sampled(0, () => 0).counts.every((n) => n === 0)).toBe(true);
});
