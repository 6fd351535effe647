import { expect, test } from 'vitest';
import { simulate } from '../../../bench/senders/simulate.ts';
import { concatenate } from '../../../src/capture/select.ts';
import { findSenders, recordingOf, recordingsOf } from '../../../src/findings/senders/index.ts';
import { captureOf } from '../traffic.ts';

const PLAN = { seed: 8, seconds: 60, stamps: 'hardware', units: 4, ids: 10 } as const;

test('recordings put end to end are told apart at the pause, the longest first, each from its own start', () => {
  const { capture } = simulate(PLAN);
  const both = concatenate([simulate({ ...PLAN, seconds: 20 }).capture, capture], 60);
  const { recordings } = recordingsOf(both);
  expect(recordings.map((r) => Math.round(r.toS))).toEqual([60, 20]);
  expect(recordings.every((r) => Math.min(...r.times.flatMap((t) => t[0] ?? [])) === 0)).toBe(true);
  const frames = recordings.flatMap((r) => r.times).reduce((sum, t) => sum + t.length, 0);
  expect(frames).toBe(both.count);
});

test('a second recording of the car does not lose what the first one tells', async () => {
  const { capture } = simulate(PLAN);
  const together = (s: Awaited<ReturnType<typeof findSenders>>) =>
    s.groups.map((g) => g.messages.map((i) => s.messages[i]?.id).join());
  const once = await findSenders(capture);
  const twice = await findSenders(concatenate([capture, capture], 60));
  expect(together(twice)).toEqual(together(once));
  expect(once.groups[0]?.messages.length).toBeGreaterThan(1);
});

test('changes are frames whose payload differs from the one before', () => {
  const capture = captureOf([
    { id: 0x10, length: 2, frames: 9, fill: (payload, i) => payload.fill(Math.floor(i / 3)) },
  ]);
  const { recordings } = recordingsOf(capture);
  const [first] = recordings;
  expect(first?.changes[0]).toHaveLength(2);
  expect(first?.changes[0]?.[0]).toBeCloseTo(first?.times[0]?.[3] as number, 9);
});

test('the resolution of stamps is seen, whatever time they start at', () => {
  const at = (step: number) =>
    recordingOf([
      Float64Array.from({ length: 400 }, (_, k) => 17.3 + Math.floor((0.0123457 * k) / step) * step),
    ]);
  for (const step of [1e-3, 5e-5, 1e-6]) expect(at(step).stampS).toBe(step);
});
