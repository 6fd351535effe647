import { expect, test } from 'vitest';
import { recordAndKill } from './killed.ts';

const seed = Number(process.env.SEED ?? Math.floor(Math.random() * 1e6));
console.log(`moments of killing with seed ${seed}`);

test('kill -9 at any moment leaves a readable file that misses at most the last second, and a valid cue sheet', async () => {
  const runs = await Promise.all(Array.from({ length: 6 }, (_, k) => recordAndKill(seed + k, 1800)));
  for (const run of runs) expect(run, JSON.stringify(run)).toMatchObject({ missedOlder: 0, wrong: [] });
  expect(runs.reduce((sum, run) => sum + run.kept, 0)).toBeGreaterThan(100);
});
