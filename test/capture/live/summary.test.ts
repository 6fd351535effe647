import { expect, test } from 'vitest';
import { FLAG } from '../../../src/can/frame.ts';
import { classicalFrameBits } from '../../../src/can/length.ts';
import { RunningSummary } from '../../../src/capture/live/summary.ts';
import { captureOf, frame } from '../frames.ts';

const MS = 1_000_000;
/** A frame every 10 ms on bus 0 and every 50 ms on bus 1, from `from` to before `to` milliseconds. */
const traffic = (from: number, to: number) => {
  const list = [];
  for (let ms = from; ms < to; ms += 10) {
    list.push(frame(ms * MS, 0x1a0, [1, 2, 3]));
    if (ms % 50 === 0) list.push(frame(ms * MS, 0x18ff0001, [ms & 255], { bus: 1, flags: FLAG.extended }));
  }
  return captureOf(list);
};

test('rates and load are those of the last whole second, however the frames are handed over', () => {
  const at = new RunningSummary();
  at.take(traffic(0, 500));
  expect(at.now().buses[0]?.framesPerSecond).toBeNull();
  at.take(traffic(500, 1300));
  at.take(traffic(1300, 2010));
  const { frames, seconds, buses } = at.now();
  expect(frames).toBe(201 + 41);
  expect(seconds).toBeCloseTo(2, 9);
  expect(buses.map((b) => [b.bus, b.framesPerSecond])).toEqual([
    [0, 100],
    [1, 20],
  ]);
  const bits = classicalFrameBits(0x1a0, 0, Uint8Array.of(1, 2, 3), 0, 3);
  expect(buses[0]?.bitsPerSecond).toBe(100 * bits);
  expect(buses[1]?.ids).toEqual([{ id: '18FF0001', frames: 41, framesPerSecond: 20 }]);
});

test('after a silence of a whole second the rates are zero', () => {
  const at = new RunningSummary();
  at.take(traffic(0, 1500));
  at.take(captureOf([frame(5000 * MS, 1, [])]));
  expect(at.now().buses[0]?.framesPerSecond).toBe(0);
});

test('error frames are counted apart, by class', () => {
  const at = new RunningSummary();
  const error = (id: number) => frame(10 * MS, id, [0, 0, 0, 0, 0, 0, 0, 0], { flags: FLAG.error });
  at.take(captureOf([frame(0, 0x100, [1]), error(0x40), error(0x20), error(0x20 | 0x80)]));
  const bus = at.now().buses[0];
  expect([bus?.frames, bus?.errorFrames]).toEqual([1, 3]);
  expect(bus?.errors).toEqual([
    { words: 'no acknowledgement', count: 2 },
    { words: 'bus off', count: 1 },
    { words: 'bus error', count: 1 },
  ]);
});

test('a clock that goes back by more than a second is told, with the frame; small disorder is not', () => {
  const at = new RunningSummary();
  expect(at.take(captureOf([frame(9000 * MS, 1, []), frame(8500 * MS, 1, [])]))).toEqual([]);
  expect(at.take(captureOf([frame(100 * MS, 1, []), frame(200 * MS, 1, [])]))).toEqual([
    { frame: 2, stepS: expect.closeTo(-8.9, 6) },
  ]);
  expect(at.now().seconds).toBeNull();
  expect(at.lastTime).toBeCloseTo(0.2, 9);
});
