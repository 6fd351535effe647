/**
 * States of a tractor that fill whole recordings, ../shared/data/tractor/SOURCE.md: repeats are held out in turn, and a
 * follower must be among the first three that parts the recording held out from all of other states.
 */
import { resolve } from 'node:path';
import { beforeAll, describe, expect, test } from 'vitest';
import { readCaptureFile } from '../../../src/build/captureFile.ts';
import { fieldBits, readBits } from '../../../src/can/bits.ts';
import { groupByMessage } from '../../../src/capture/select.ts';
import { timeSpan } from '../../../src/capture/span.ts';
import type { Capture } from '../../../src/capture/store.ts';
import { type CueCandidate, type CuedRecording, cueSteps } from '../../../src/findings/cues/index.ts';
import type { Findings, FoundSignal } from '../../../src/findings/model.ts';
import { DATA, DATA_IS_HERE, recordingsIn } from '../recordings.ts';

interface Log {
  name: string;
  state: string;
  capture: Capture;
}

describe.runIf(DATA_IS_HERE)('a tractor (skipped where ../shared/data is not there)', () => {
  const logs: Log[] = [];
  let findings: Pick<Findings, 'messages'>;

  beforeAll(async () => {
    for (const path of recordingsIn('tractor')) {
      const name = path.replace(/^.*\/|\.csv\.gz$/g, '');
      const { capture } = await readCaptureFile(resolve(DATA, path));
      logs.push({ name, state: name.replace(/-\d$/, ''), capture });
    }
    findings = bytesOf(logs.map((l) => l.capture));
  });

  test.each([
    ['high-beam-on', 1],
    ['high-beam-on', 2],
    ['high-rpm', 2],
    ['start', 1],
  ] as const)('state %s is told with repeat %i held out', (state, repeat) => {
    const out = logs.find((l) => l.name === `${state}-${repeat}`) as Log;
    const recordings = logs
      .filter((l) => l !== out)
      .map((log): CuedRecording => {
        const cues =
          log.state === state ? [{ name: state, startS: 0, endS: timeSpan(log.capture.time).seconds }] : [];
        return { name: log.name, capture: log.capture, cues };
      });
    const steps = cueSteps(recordings, findings, { draws: 19 });
    let step = steps.next();
    while (!step.done) step = steps.next();
    const [found] = step.value;
    const others = logs.filter((l) => l.state !== state);
    const first = found?.candidates.slice(0, 3) ?? [];
    const parting = first.filter((c) => {
      const rest = others.map((l) => meanOf(l.capture, c));
      const own = meanOf(out.capture, c);
      return own > Math.max(...rest) || own < Math.min(...rest);
    });
    expect(parting.length).toBeGreaterThan(0);
    // A single repeat of many states is never enough.
    expect(found?.open).toContain('Not enough to tell: repeat it');
  });
});

/** Every payload byte as a field, so that nothing depends on the cut. */
function bytesOf(captures: readonly Capture[]): Pick<Findings, 'messages'> {
  const lengths = new Map<number, { bus: number; extended: boolean; length: number }>();
  for (const capture of captures)
    for (const { bus, id, extended, frames } of groupByMessage(capture))
      if (!lengths.has(id))
        lengths.set(id, { bus, extended, length: capture.length[frames[0] as number] as number });
  const messages = [...lengths].map(([id, { bus, extended, length }]) => ({
    bus,
    id,
    extended,
    length,
    selector: null,
    flipRate: new Float64Array(8 * length).fill(1),
    signals: Array.from(
      { length },
      (_, byte) =>
        ({ start: 8 * byte, length: 8, byteOrder: 'little', signed: false, kind: 'number' }) as FoundSignal,
    ),
  }));
  return { messages: messages as unknown as Findings['messages'] };
}

function meanOf(capture: Capture, place: CueCandidate): number {
  let sum = 0;
  let n = 0;
  const needed = Math.max(...fieldBits(place)) / 8;
  for (let i = 0; i < capture.count; i++) {
    if (capture.id[i] !== place.id || (capture.length[i] as number) <= needed) continue;
    sum += readBits(capture.payload, capture.offset[i] as number, place);
    n++;
  }
  return sum / Math.max(1, n);
}
