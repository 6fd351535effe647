import { expect, test } from 'vitest';
import type { ListenState } from '../../src/build/listen/index.ts';
import { blockLines, plainLine } from '../../src/cli/listenView.ts';

const state: ListenState = {
  name: 'run.pcapng',
  elapsedS: 61.2,
  quietS: 0.1,
  openCues: ['brake pressed'],
  cues: 1,
  summary: {
    frames: 12_345,
    seconds: 60.4,
    buses: [
      {
        bus: 0,
        frames: 12_000,
        errorFrames: 3,
        errors: [{ words: 'bus off', count: 3 }],
        framesPerSecond: 1234,
        bitsPerSecond: 125_000,
        hasFd: false,
        ids: [{ id: '1A0', frames: 6000, framesPerSecond: 100 }],
      },
      {
        bus: 7,
        frames: 342,
        errorFrames: 0,
        errors: [],
        framesPerSecond: 5,
        bitsPerSecond: 640,
        hasFd: true,
        ids: [],
      },
    ],
  },
};
const buses = [{ name: 'chassis', number: 0, bitRateBps: 500_000 }];

test('the summary shows load against the bit rate that the build states, and bits a second where it states none', () => {
  expect(blockLines(state, buses, new Map([['b', 'brake pressed']]), 100)).toEqual([
    'captures/run.pcapng  12,345 frames, 60.4 s recorded, listening for 61 s',
    'bus      frames/s         load  ids  error frames',
    'chassis     1,234       25.0 %    1  3 (bus off 3)',
    '  1A0 100/s',
    'bus 7           5  ≤ 640 bit/s    0  0',
    '',
    'keys: b brake pressed [ON] · space ends all',
  ]);
  expect(plainLine(state, buses)).toBe(
    '61 s: 12,345 frames; chassis 1,234 frames/s, load 25.0 %, 1 ids, 3 (bus off 3) error frames; bus 7 5 frames/s, load ≤ 640 bit/s, 0 ids, 0 error frames',
  );
});

test('no line is wider than the terminal', () => {
  for (const line of blockLines(state, buses, new Map([['b', 'a cue with a long name']]), 40))
    expect(line.length).toBeLessThan(40);
});
