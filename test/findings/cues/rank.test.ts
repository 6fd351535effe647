import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { pickFrames } from '../../../src/capture/select.ts';
import { timeSpan } from '../../../src/capture/span.ts';
import type { Capture } from '../../../src/capture/store.ts';
import type { Cue, CuedRecording, CueFinding, CueOptions } from '../../../src/findings/cues/index.ts';
import { cueSteps } from '../../../src/findings/cues/index.ts';
import { findAll } from '../../../src/findings/find.ts';
import { captureOf, random, type Sender } from '../traffic.ts';

/** Seconds of frames 0.1 s apart, and the windows in which a thing is done. */
const SECONDS = 120;
const WINDOWS = [
  [11, 14],
  [35, 37],
  [52, 57],
  [88, 90],
] as const;

const doing = (t: number) => WINDOWS.some(([from, to]) => t >= from && t < to);

function sender(id: number, fill: Sender['fill']): Sender {
  return { id, length: 4, periodS: 0.1, frames: SECONDS * 10, fill };
}

/** A flag of the thing, and fields that wander about by themselves. */
function drive(seed: number, lagS = 0): Capture {
  const dice = random(seed);
  let level = 500;
  let flags = 0;
  return captureOf([
    sender(0x100, (p) => {
      level = Math.min(1000, Math.max(0, level + Math.round((dice() - 0.5) * 30)));
      if (dice() < 0.03) flags ^= 1 << Math.floor(dice() * 4);
      p[0] = level & 255;
      p[1] = level >> 8;
      p[2] = flags;
    }),
    sender(0x200, (p, i) => {
      p[1] = doing(i * 0.1 - lagS) ? 0x10 : 0;
      p[2] = dice() < 0.5 ? 1 : 0;
    }),
  ]);
}

const cues = (name: string, windows: readonly (readonly [number, number])[]): Cue[] =>
  windows.map(([startS, endS]) => ({ name, startS, endS }));

async function ranked(recordings: CuedRecording[], options: CueOptions = {}): Promise<CueFinding[]> {
  const { messages } = await findAll((recordings[0] as CuedRecording).capture);
  return results(cueSteps(recordings, { messages }, options));
}

function results<T>(steps: Generator<number, T>): T {
  let step = steps.next();
  while (!step.done) step = steps.next();
  return step.value;
}

describe('cues', () => {
  test('the flag of what was done is first, with a small p-value and no open question', async () => {
    const [found] = await ranked([{ name: 'a', capture: drive(1), cues: cues('horn', WINDOWS) }]);
    expect(found).toMatchObject({ name: 'horn', repeats: 4, more: 0, open: null });
    expect(found?.candidates[0]).toMatchObject({ rank: 1, id: 0x200, start: 12, length: 1, by: 'value' });
    expect(found?.candidates[0]?.pValue).toBeLessThan(0.01);
  });

  test('a reaction a second after the noted times is found with its lag', async () => {
    const [found] = await ranked([{ name: 'a', capture: drive(2, 1), cues: cues('horn', WINDOWS) }]);
    expect(found?.candidates[0]).toMatchObject({ id: 0x200, start: 12 });
    expect(found?.candidates[0]?.lagS).toBeCloseTo(1, 0.3);
  });

  test('done once, it asks for repeats; done never apart from the rest, for a comparison', async () => {
    const [once, always] = await ranked([
      {
        name: 'a',
        capture: drive(3),
        cues: [...cues('horn', WINDOWS.slice(0, 1)), ...cues('ignition', [[0, SECONDS]])],
      },
    ]);
    expect(once?.more).toBeGreaterThanOrEqual(2);
    expect(once?.open).toMatch(/^Not enough to tell: repeat it \d+ more times\.$/);
    expect(always?.open).toContain('no recording shows both');
    expect(always?.candidates).toEqual([]);
  });

  test('left and right are opposites of one signal, half and full levels of one', async () => {
    const hump = (t: number, from: number, to: number) =>
      t >= from && t < to ? Math.sin((Math.PI * (t - from)) / (to - from)) : 0;
    const side = (t: number) => hump(t, 10, 20) - hump(t, 40, 50);
    const press = (t: number) => 45 * (hump(t, 60, 65) + hump(t, 95, 99)) + 90 * hump(t, 80, 85);
    const dice = random(5);
    const capture = captureOf([
      sender(0x300, (p, i) => {
        p[0] = 100 + 90 * side(i * 0.1) + Math.floor(dice() * 5);
        p[1] = press(i * 0.1) + Math.floor(dice() * 3);
      }),
    ]);
    const found = await ranked([
      {
        name: 'a',
        capture,
        cues: [
          ...cues('turn left', [[10, 20]]),
          ...cues('turn right', [[40, 50]]),
          ...cues('press half', [
            [60, 65],
            [95, 99],
          ]),
          ...cues('press full', [[80, 85]]),
        ],
      },
    ]);
    const byName = new Map(found.map((f) => [f.name, f.candidates[0]]));
    expect(byName.get('turn left / right')?.start).toBe(0);
    expect(byName.get('turn left / right')?.agreement).toBeGreaterThan(0);
    expect(byName.get('press')?.start).toBe(8);
    expect(Math.abs(byName.get('press')?.agreement ?? 0)).toBeGreaterThan(0.6);
  });

  test('cues that fill recordings are compared between recordings', async () => {
    const state = (on: boolean, seed: number) => {
      const dice = random(seed);
      return captureOf([
        { ...sender(0x400, (p) => (p[0] = (on ? 0x20 : 0) | (dice() < 0.3 ? 1 : 0)) as never), frames: 150 },
      ]);
    };
    const recordings = [0, 1, 2, 3, 4, 5, 6, 7].map((k): CuedRecording => {
      const capture = state(k < 3, k + 1);
      const { seconds } = timeSpan(capture.time);
      return { name: String(k), capture, cues: k < 3 ? cues('beam', [[0, seconds]]) : [] };
    });
    // The flag never moves within a recording: findings of one alone call it constant.
    const [found] = await ranked(recordings);
    expect(found?.candidates[0]).toMatchObject({ id: 0x400, start: 5, length: 1 });
    expect(found?.candidates[0]?.pValue).toBeLessThan(0.05);
  });

  test('what holds does not depend on when the recording began or on the order of messages', async () => {
    const capture = drive(4);
    const sheet = cues('horn', WINDOWS);
    const { messages } = await findAll(capture);
    const plain = results(cueSteps([{ name: 'a', capture, cues: sheet }], { messages }));
    fc.assert(
      fc.property(fc.integer({ min: -1e6, max: 1e6 }), (shift) => {
        const moved = { ...capture, time: capture.time.map((t) => t + shift) };
        const found = results(
          cueSteps([{ name: 'a', capture: moved, cues: sheet }], { messages: [...messages].reverse() }),
        );
        expect(found[0]?.candidates[0]).toEqual(plain[0]?.candidates[0]);
      }),
      { numRuns: 3 },
    );
  });

  test('shuffled windows give p-values that are spread evenly', async () => {
    const capture = drive(6);
    const { messages } = await findAll(capture);
    const only = pickFrames(
      capture,
      Uint32Array.from({ length: capture.count }, (_, i) => i).filter((i) => capture.id[i] === 0x100),
    );
    const dice = random(77);
    const p: number[] = [];
    for (let run = 0; run < 120; run++) {
      const windows = [0, 1, 2].map(() => {
        const from = dice() * (SECONDS - 6);
        return [from, from + 2 + dice() * 3] as const;
      });
      const [found] = results(
        cueSteps(
          [{ name: 'a', capture: only, cues: cues('x', windows) }],
          { messages },
          { draws: 99, seed: run + 1 },
        ),
      );
      p.push(found?.candidates[0]?.pValue ?? 1);
    }
    p.sort((a, b) => a - b);
    const farthest = Math.max(
      ...p.map((v, k) => Math.max(Math.abs(v - k / p.length), Math.abs(v - (k + 1) / p.length))),
    );
    // Kolmogorov-Smirnov: 1.63 / √n is exceeded by one even sample in a hundred (from memory).
    expect(farthest).toBeLessThan(1.63 / Math.sqrt(p.length));
  });
});
