import { readFileSync } from 'node:fs';
import { resolve } from 'node:path';
import { expect, test } from 'vitest';
import { DEMO_SEED, SATELLITE, satelliteCsv } from '../../demo/generator/index.ts';
import { loadBuild } from '../../src/build/load.ts';
import { alignIn } from '../../src/build/reference/accept.ts';
import { recording } from './recording.ts';

test('the reference channel of the demo is what its generator writes from the seed', () => {
  const file = readFileSync(resolve('demo/reference/drive-1-satellite.csv'), 'utf8');
  expect(file).toBe(satelliteCsv(DEMO_SEED));
});

test('the clock of the receiver is found within its interval, and the scale of the decoded speed with it', async () => {
  const { build, problems } = await loadBuild(resolve('demo'));
  expect(problems.filter((p) => p.weight !== 'caution')).toEqual([]);
  const [reference] = build!.references;
  const { result } = alignIn(build!, recording('drive-1'), reference!, 'vehicle speed');
  if ('reason' in result) throw new Error(result.reason);
  // The truth: switched on 21.64 s earlier, 18 ppm fast; the speed is on the bus up to 20 ms after it was measured.
  const shift = -SATELLITE.onBeforeS - result.middleS * SATELLITE.clockPpm * 1e-6;
  expect(result.r).toBeGreaterThan(0.995);
  expect(Math.abs(result.shiftS - shift)).toBeLessThan(0.02 + result.shiftHalfS);
  expect(result.slope).toBeCloseTo(1, 1);
  expect(result.rivals).toEqual([]);
});
