import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { fuzz, inputOf } from '../../bench/fuzz/campaign.ts';
import { definitions } from '../../bench/fuzz/definitions.ts';
import { feed } from '../../bench/fuzz/feed.ts';
import { seedsOf } from '../../bench/fuzz/seeds.ts';
import { type Target, targets, turnsOf } from '../../bench/fuzz/targets.ts';
import { FILE_FORMATS } from '../../src/build/fileFormats.ts';
import { CaptureError } from '../../src/capture/error.ts';
import { FORMATS } from '../../src/capture/formats/list.ts';
import type { CaptureBuilder } from '../../src/capture/store.ts';

const seed = Number(process.env.SEED ?? Math.floor(Math.random() * 1e6));
const RUNS = 3200;
const SLOW_RUNS = 60;
const LIMITS = { ms: 20_000, bytes: 128e6 };
console.log(`${RUNS} spoilt recordings with seed ${seed}`);

test('a spoilt recording never crashes a reader, takes its memory or gives frames that no bus carries', async () => {
  const quick = await fuzz(seed, 0, RUNS, LIMITS);
  expect(quick.failures).toEqual([]);
  expect(Object.keys(quick.tallies).sort()).toEqual(
    [
      ...[...FORMATS, ...FILE_FORMATS].map(({ name }) => name),
      'live stream',
      'reference text',
      'track',
      'cue sheet',
      ...definitions().map(({ name }) => name),
    ].sort(),
  );
  const tallies = { ...quick.tallies };
  // A handful of runs each, and what they read are definitions: their own tests spoil more of them.
  for (const { name } of definitions()) delete tallies[name];
  for (const { name } of FILE_FORMATS) {
    const slow = await fuzz(seed, 0, SLOW_RUNS, LIMITS, () => {}, name);
    expect(slow.failures).toEqual([]);
    Object.assign(tallies, slow.tallies);
  }
  for (const { runs, outcomes, gzip, frames } of Object.values(tallies)) {
    // Inputs must get past the first look of a reader, and some must not.
    expect(outcomes.read).toBeGreaterThan(runs / 20);
    expect(outcomes.refused).toBeGreaterThan(runs / 50);
    expect(frames).toBeGreaterThan(runs);
    // Of the slow readers there are too few runs here for a packed one to be sure.
    if (runs > SLOW_RUNS) expect(gzip).toBeGreaterThan(0);
  }
});

test('every format that is written lends sound recordings to begin from, and reads each of them', async () => {
  for (const format of FORMATS.filter(({ write }) => write)) {
    const seeds = seedsOf(format);
    expect(seeds.length).toBeGreaterThan(3);
    for (const bytes of seeds)
      expect(
        await feed({ name: format.name, seeds, open: format.open }, [bytes], 'plain', LIMITS),
      ).toMatchObject({
        outcome: 'read',
      });
  }
});

test('an input is made again from its seed and its number alone', async () => {
  const all = await targets();
  const list = turnsOf(all);
  const others = all.flatMap(({ seeds }) => seeds);
  const bytes = (run: number) => Buffer.concat(inputOf(7, run, list, others).pieces).toString('hex');
  const before = bytes(123);
  bytes(124);
  expect(bytes(123)).toBe(before);
  expect(bytes(123)).not.toBe(bytes(128));
});

describe('what a reader does wrong is counted:', () => {
  const reader = (end: (into: CaptureBuilder) => void): Target => ({
    name: 'wrong',
    seeds: [],
    open: (into) => ({ push: () => {}, end: () => end(into) }),
  });
  let kept: Uint8Array[] = [];
  test.each<[string, string, (into: CaptureBuilder) => void]>([
    ['a mistake in the program', 'crash', () => (undefined as unknown as string).length.toFixed()],
    [
      'a refusal without a sentence',
      'crash',
      () => {
        throw new CaptureError('bad');
      },
    ],
    [
      'a refusal in several lines',
      'crash',
      () => {
        throw new CaptureError('The first.\nThe second.');
      },
    ],
    [
      'an identifier of 30 bits',
      'nonsense',
      (into) => into.add(0, 0, 0x2000_0000, 1, 0, new Uint8Array(0), 0, 0),
    ],
    ['a time that is none', 'nonsense', (into) => into.add(Number.NaN, 0, 1, 0, 0, new Uint8Array(0), 0, 0)],
    [
      'nine bytes in a classical frame',
      'nonsense',
      (into) => into.add(0, 0, 1, 0, 9, new Uint8Array(9), 0, 9),
    ],
    [
      'memory beyond the limit',
      'memory',
      () => {
        kept = [new Uint8Array(30e6).fill(1)];
      },
    ],
    [
      'time beyond the limit',
      'slow',
      () => {
        const until = performance.now() + 60;
        while (performance.now() < until);
      },
    ],
    [
      'nothing',
      'refused',
      () => {
        throw new CaptureError('The recording is empty: 0 bytes.');
      },
    ],
  ])('%s', async (_, outcome, end) => {
    const fed = await feed(reader(end), [Uint8Array.of(1)], 'plain', {
      ms: outcome === 'slow' ? 50 : 60_000,
      bytes: 20e6,
    });
    expect(fed.outcome).toBe(outcome);
    kept = [];
  });
  test('and kept memory is let go', () => expect(kept).toEqual([]));
});

test('the command for a campaign stands in the package', () => {
  expect(JSON.parse(readFileSync('package.json', 'utf8')).scripts.fuzz).toMatch(/dist\/bench\/fuzz\.js/);
});
