import fc from 'fast-check';
import { expect, test } from 'vitest';
import { FLAG, idKey } from '../../src/can/frame.ts';
import { concatenate, groupByMessage, pickFrames, selectFrames } from '../../src/capture/select.ts';
import { captureOf, frame, framesArbitrary, framesOf, outOfRange } from './frames.ts';

const seed = Number(process.env.SEED ?? 20261125);

test('a base and an extended identifier of the same value, and the same on two buses, are different messages', () => {
  const capture = captureOf([
    frame(0, 0x123, [1], { bus: 1 }),
    frame(1, 0x123, [2], { flags: FLAG.extended }),
    frame(2, 0x123, [3]),
    frame(3, 0x050, [4]),
    frame(4, 0x123, [5]),
  ]);
  expect(
    groupByMessage(capture).map(({ frames, ...message }) => ({ ...message, frames: [...frames] })),
  ).toEqual([
    { bus: 0, id: 0x050, extended: false, frames: [3] },
    { bus: 0, id: 0x123, extended: false, frames: [2, 4] },
    { bus: 0, id: 0x123, extended: true, frames: [1] },
    { bus: 1, id: 0x123, extended: false, frames: [0] },
  ]);
});

test('remote frames and error messages belong to no message', () => {
  const capture = captureOf([
    frame(0, 0x123, [], { flags: FLAG.remote, length: 8 }),
    frame(1, 0x004, [0, 0, 0, 0, 0, 0, 0, 0], { flags: FLAG.error }),
  ]);
  expect(groupByMessage(capture)).toEqual([]);
});

test('every data frame is in exactly one message, in recorded order', () => {
  fc.assert(
    fc.property(framesArbitrary('many'), (frames) => {
      const capture = captureOf(frames);
      const messages = groupByMessage(capture);
      const all = messages.flatMap((m) => [...m.frames]);
      const data = frames.flatMap((f, i) => (f.flags & (FLAG.remote | FLAG.error) ? [] : [i]));
      expect([...all].sort((a, b) => a - b)).toEqual(data);
      for (const message of messages) {
        expect([...message.frames]).toEqual([...message.frames].sort((a, b) => a - b));
        for (const i of message.frames) {
          expect(frames[i]).toMatchObject({ bus: message.bus, id: message.id });
          expect(((frames[i]?.flags ?? 0) & FLAG.extended) !== 0).toBe(message.extended);
        }
      }
    }),
    { seed, numRuns: 100 },
  );
});

test('thousands of messages on many buses stay apart', () => {
  const ids = fc.sample(fc.integer({ min: 0, max: 0x1fff_ffff }), { numRuns: 3000, seed });
  const frames = Array.from({ length: 20_000 }, (_, n) =>
    frame(n, ids[n % ids.length] as number, [], { bus: n % 7, flags: FLAG.extended }),
  );
  const messages = groupByMessage(captureOf(frames));
  expect(messages.length).toBe(new Set(frames.map((f) => f.bus * 2 ** 29 + f.id)).size);
  expect(messages.reduce((sum, m) => sum + m.frames.length, 0)).toBe(frames.length);
});

test('frames are chosen by bus, identifier and a span of time that leaves out its end', () => {
  const capture = captureOf([
    frame(0, 1, []),
    frame(1_000_000_000, 1, [], { bus: 1 }),
    frame(2_000_000_000, 2, []),
    frame(3_000_000_000, 1, [], { flags: FLAG.extended }),
  ]);
  expect([...selectFrames(capture, {})]).toEqual([0, 1, 2, 3]);
  expect([...selectFrames(capture, { buses: [0] })]).toEqual([0, 2, 3]);
  expect([...selectFrames(capture, { idKeys: [idKey(1, 0)] })]).toEqual([0, 1]);
  expect([...selectFrames(capture, { idKeys: [idKey(1, FLAG.extended)] })]).toEqual([3]);
  expect([...selectFrames(capture, { fromS: 1, toS: 3 })]).toEqual([1, 2]);
  expect([...selectFrames(capture, { buses: [], fromS: 1 })]).toEqual([]);
});

test('picked frames keep their content, time and origin', () => {
  fc.assert(
    fc.property(framesArbitrary('many'), fc.infiniteStream(fc.boolean()), (frames, coins) => {
      const capture = captureOf(frames);
      const chosen = frames.map((_, i) => i).filter(() => coins.next().value);
      const picked = pickFrames(capture, Uint32Array.from(chosen));
      expect(framesOf(picked)).toEqual(chosen.map((i) => frames[i]));
      expect(picked.originNs).toBe(capture.originNs);
      expect(outOfRange(picked)).toBeNull();
    }),
    { seed, numRuns: 100 },
  );
});

test('captures put end to end start a gap after the latest frame before them', () => {
  const first = captureOf([frame(5_000_000_000, 1, [1]), frame(2_000_000_000, 2, [2, 3])]);
  const second = captureOf([
    frame(1_700_000_000_000_000_007n, 3, [4]),
    frame(1_700_000_000_250_000_007n, 4, []),
  ]);
  const whole = concatenate([first, captureOf([]), second], 1);
  expect([...whole.time]).toEqual([5, 2, 6, 6.25]);
  expect([...whole.id]).toEqual([1, 2, 3, 4]);
  expect(framesOf(whole).map((f) => f.data)).toEqual([[1], [2, 3], [4], []]);
  expect(whole.originNs).toBe(0n);
  expect(outOfRange(whole)).toBeNull();
});
