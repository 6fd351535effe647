import { resolve } from 'node:path';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { readCaptureFile } from '../../../src/build/captureFile.ts';
import { pickFrames } from '../../../src/capture/select.ts';
import type { Capture } from '../../../src/capture/store.ts';
import { type Comparison, compareSteps } from '../../../src/findings/compare/index.ts';
import { absenceChance } from '../../../src/findings/compare/presence.ts';
import { findAll } from '../../../src/findings/find.ts';
import { DATA, DATA_IS_HERE } from '../recordings.ts';
import { captureOf, checkField, driving, type Sender } from '../traffic.ts';

function senders(seed: number): Sender[] {
  const counter = (i: number) => i % 16;
  return [
    {
      id: 0x100,
      length: 8,
      frames: 3000,
      seed,
      fill: driving(seed),
      counter: { start: 48, length: 4, byteOrder: 'little', value: counter },
      check: checkField({ init: 0xff, xorout: 0xff }),
    },
    { id: 0x200, length: 8, periodS: 0.02, frames: 1500, seed, fill: driving(seed + 50) },
    { id: 0x300, length: 4, periodS: 0.1, frames: 300, seed, fill: driving(seed + 90) },
  ];
}

async function compared(a: Capture, b: Capture): Promise<Comparison> {
  const steps = compareSteps(
    { capture: a, findings: await findAll(a) },
    { capture: b, findings: await findAll(b) },
  );
  let step = steps.next();
  while (!step.done) step = steps.next();
  return step.value;
}

const sure = ({ differences }: Comparison) =>
  differences.filter((d) => d.sure).map((d) => `${d.id.toString(16)} ${d.kind}`);

describe('two recordings held against each other', () => {
  test('two drives of one car show no sure difference', async () => {
    expect(sure(await compared(captureOf(senders(1)), captureOf(senders(2))))).toEqual([]);
  });

  test('a message that is gone, one that is new, another period and another check are told', async () => {
    const [first, second, third] = senders(2) as [Sender, Sender, Sender];
    const b = captureOf([
      { ...first, check: checkField({ poly: 0x2f, init: 0xff, xorout: 0xff }) },
      { ...third, periodS: 0.2, frames: 150 },
      { ...second, id: 0x400 },
    ]);
    const comparison = await compared(captureOf(senders(1)), b);
    expect(sure(comparison)).toEqual(
      expect.arrayContaining(['200 vanished', '400 appeared', '300 timing', '100 check']),
    );
    expect(comparison.differences.find((d) => d.kind === 'vanished')?.text).toContain(
      'its period of 20 ms would have shown it 1,500 times',
    );
  });

  test('a second of B is too short to miss a message that comes every ten seconds', async () => {
    const slow: Sender = { id: 0x500, length: 2, periodS: 10, frames: 3, fill: (p) => p.fill(1) };
    const a = captureOf([...senders(1), slow]);
    const b = captureOf(senders(2).map((s) => ({ ...s, frames: Math.floor(s.frames / 30) })));
    const comparison = await compared(a, b);
    const gone = comparison.differences.find((d) => d.id === 0x500);
    expect(gone).toMatchObject({ kind: 'vanished', sure: false });
    expect(gone?.text).toMatch(/^seen 3 times in .* s of A, not in B; /);
  });

  test('what vanished from A to B appeared from B to A, with the same chance', async () => {
    const a = captureOf(senders(1));
    const b = captureOf(senders(2).slice(0, 2));
    const there = await compared(a, b);
    const back = await compared(b, a);
    const gone = there.differences.find((d) => d.kind === 'vanished');
    const come = back.differences.find((d) => d.kind === 'appeared');
    expect(come?.chance).toBe(gone?.chance);
  });

  test('three frames in a minute leave one chance in eight that the next minute shows none', () => {
    // (1 / 2)^3: with the same rate each of the three is as likely in the first minute as in the second.
    expect(absenceChance({ times: 3, seconds: 60, periodMs: null }, 60)).toBeCloseTo(1 / 8, 12);
  });

  test('the chance of an absence falls with frames seen and with time watched', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 1, max: 1000 }),
        fc.double({ min: 0.1, max: 1e4, noNaN: true }),
        fc.double({ min: 0.1, max: 1e4, noNaN: true }),
        (times, seconds, otherS) => {
          const chance = absenceChance({ times, seconds, periodMs: null }, otherS);
          expect(chance).toBeLessThanOrEqual(1);
          expect(absenceChance({ times: times + 1, seconds, periodMs: null }, otherS)).toBeLessThanOrEqual(
            chance,
          );
          expect(absenceChance({ times, seconds, periodMs: null }, 2 * otherS)).toBeLessThanOrEqual(chance);
        },
      ),
    );
  });
});

describe.runIf(DATA_IS_HERE)('a real car (skipped where ../shared/data is not there)', () => {
  test('two halves of one drive: no message came or went, no counter and no check changed', async () => {
    const { capture } = await readCaptureFile(resolve(DATA, 'car-500k/drive-b.csv.gz'));
    const half = capture.count >> 1;
    const part = (from: number, to: number) =>
      pickFrames(
        capture,
        Uint32Array.from({ length: to - from }, (_, i) => from + i),
      );
    const comparison = await compared(part(0, half), part(half, capture.count));
    const kinds = comparison.differences.filter((d) => d.sure).map((d) => d.kind);
    for (const kind of ['appeared', 'vanished', 'length', 'timing', 'counter', 'check'])
      expect(kinds).not.toContain(kind);
  });
});
