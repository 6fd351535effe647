import { expect, test } from 'vitest';
import { ClockTie } from '../../../src/capture/live/clock.ts';
import { CueLog } from '../../../src/capture/live/cueLog.ts';

test('a press finds its place by the frame that came with the least delay', () => {
  const tie = new ClockTie();
  expect(tie.timeAt(100)).toBeNull();
  tie.arrived(5, 100.3);
  tie.arrived(5.2, 100.21);
  tie.arrived(5.5, 100.9);
  expect(tie.timeAt(101)).toBeCloseTo(5.99, 9);
  tie.restart();
  expect(tie.timeAt(101)).toBeNull();
});

test('a clock that drifts is followed: frames older than a minute no longer count', () => {
  const tie = new ClockTie();
  for (let s = 0; s <= 200; s++) tie.arrived(s * 0.999, s);
  expect(tie.timeAt(200)).toBeGreaterThan(199.8 - 0.061);
  expect(tie.timeAt(200)).toBeLessThan(199.8 + 0.061);
});

test('a key starts its cue and ends it; the space bar ends all; no cue ever ends before it starts', () => {
  const log = new CueLog();
  log.press('brake pressed', 1);
  log.press('wiper on', 2);
  log.moveOn(2.5);
  expect(log.cues.map((c) => [c.name, c.startS, c.endS, c.state])).toEqual([
    ['brake pressed', 1, 2.5, 'open'],
    ['wiper on', 2, 2.5, 'open'],
  ]);
  expect(log.press('brake pressed', 3).endS).toBe(3);
  log.press('brake pressed', 4);
  expect(log.endAll(0.1).map((c) => [c.name, c.startS, c.endS])).toEqual([
    ['wiper on', 2, 2.5],
    ['brake pressed', 4, 4],
  ]);
  expect(log.open).toEqual([]);
});
