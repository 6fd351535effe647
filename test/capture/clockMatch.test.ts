import { expect, test } from 'vitest';
import { matchClocks } from '../../src/capture/clockMatch.ts';
import { mergeCaptures } from '../../src/capture/merge.ts';
import { type Capture, CaptureBuilder } from '../../src/capture/store.ts';

/** Small seeded generator (mulberry32). */
function random(seed: number): () => number {
  let s = seed;
  return () => {
    s = (s + 0x6d2b79f5) | 0;
    let t = Math.imul(s ^ (s >>> 15), 1 | s);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32;
  };
}

interface Heard {
  time: number;
  bus: number;
  id: number;
  payload: number[];
}

function capture(frames: readonly Heard[]): Capture {
  const builder = new CaptureBuilder();
  for (const f of frames)
    builder.add(f.time, f.bus, f.id, 0, f.payload.length, Uint8Array.from(f.payload), 0, f.payload.length);
  return builder.finish();
}

/** One bus heard by two recorders whose clocks differ, each with stamp noise and losses, beside a bus of its own. */
function twoRecorders(seed: number, offsetS: number, driftPpm: number) {
  const rnd = random(seed);
  const common: Heard[] = [];
  let level = 1000;
  for (let k = 0; k < 6000; k++) {
    level += Math.round(40 * (rnd() - 0.5));
    common.push({
      time: 5 + k * 0.01,
      bus: 0,
      id: 0x123,
      payload: [k & 15, level & 255, level >> 8, Math.floor(rnd() * 4)],
    });
  }
  const own = (bus: number, id: number) =>
    Array.from({ length: 2000 }, (_, k): Heard => ({ time: 5 + k * 0.03, bus, id, payload: [k & 255, 7] }));
  const hear = (frames: Heard[], clock: (t: number) => number) =>
    frames
      .filter(() => rnd() > 0.02)
      .map((f) => ({ ...f, time: clock(f.time) + 20e-6 * rnd() }))
      .sort((a, b) => a.time - b.time);
  // first = second + offset + drift × second, solved for the second's reading.
  const secondClock = (t: number) => (t - offsetS) / (1 + driftPpm * 1e-6);
  return {
    first: capture(hear([...common, ...own(1, 0x200)], (t) => t)),
    second: capture(hear([...common, ...own(3, 0x300)], secondClock)),
  };
}

test.each([
  [11, 0.0, 0],
  [12, 3.25, 40],
  [13, -17.5, -120],
  [14, 1234.5, 480],
])(
  'offset and drift of a second recorder are found to tens of microseconds (seed %i, %f s, %f ppm)',
  (seed, offsetS, driftPpm) => {
    const { first, second } = twoRecorders(seed, offsetS, driftPpm);
    const match = matchClocks(first, second);
    if ('reason' in match) throw new Error(match.reason);
    expect(Math.abs(match.driftPpm - driftPpm)).toBeLessThan(0.5);
    const middle = second.time[second.count >> 1]!;
    const error = match.offsetS + match.driftPpm * 1e-6 * middle - (offsetS + driftPpm * 1e-6 * middle);
    expect(Math.abs(error)).toBeLessThan(30e-6);
    expect(match.residual95S).toBeLessThan(60e-6);
    expect(match.messages).toBe(1);
  },
);

test('recordings that share no frame give a reason and what to record, not a match', () => {
  const { first } = twoRecorders(21, 0, 0);
  const other = capture(
    Array.from({ length: 500 }, (_, k) => ({ time: k * 0.02, bus: 0, id: 0x7, payload: [k & 255, k >> 8] })),
  );
  expect(matchClocks(first, other)).toMatchObject({
    reason: expect.stringMatching(/let both recorders hear one bus/),
  });
});

test('frames of equal content at unrelated times give no match', () => {
  const scattered = (seed: number) => {
    const r = random(seed);
    return capture(
      Array.from({ length: 400 }, (_, k) => ({
        time: 600 * r(),
        bus: 0,
        id: 0x55,
        payload: [k & 255, k >> 8],
      })).sort((a, b) => a.time - b.time),
    );
  };
  expect('reason' in matchClocks(scattered(32), scattered(33))).toBe(true);
});

test('merged captures are in order of the first clock, keep every frame and leave out the bus that was heard twice', () => {
  const { first, second } = twoRecorders(41, 2.5, 60);
  const match = matchClocks(first, second);
  if ('reason' in match) throw new Error(match.reason);
  const merged = mergeCaptures(first, second, match, (bus) => (bus === 0 ? null : 2));
  const kept = second.bus.reduce((n, bus) => n + (bus === 0 ? 0 : 1), 0);
  expect(merged.count).toBe(first.count + kept);
  expect(new Set(merged.bus)).toEqual(new Set([0, 1, 2]));
  for (let i = 1; i < merged.count; i++) expect(merged.time[i]!).toBeGreaterThanOrEqual(merged.time[i - 1]!);
  // The second's own message ran from 5 s in steps of 30 ms on the first clock.
  const own = [...merged.time].filter((_, i) => merged.bus[i] === 2);
  for (const t of own) expect(Math.abs((((t - 5) / 0.03 + 0.5) % 1) - 0.5) * 0.03).toBeLessThan(60e-6);
});
