import { resolve } from 'node:path';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { readCaptureFile } from '../../../src/build/captureFile.ts';
import { writeBits } from '../../../src/can/bits.ts';
import { groupByMessage } from '../../../src/capture/select.ts';
import type { Capture } from '../../../src/capture/store.ts';
import type { Findings, FoundSignal } from '../../../src/findings/model.ts';
import { keyOf, type Relations, relateSteps } from '../../../src/findings/relations/index.ts';
import { DATA, DATA_IS_HERE } from '../recordings.ts';
import { captureOf, random, type Sender } from '../traffic.ts';

interface Field {
  id: number;
  bus?: number;
  start: number;
  length: number;
  kind?: 'number' | 'flag';
  signed?: boolean;
  value: (t: number) => number;
}

const SECONDS = 120;

/** Traffic of such fields, one message for each identifier, and findings that know their places but nothing else. */
function traffic(
  fields: readonly Field[],
  seconds = SECONDS,
): { capture: Capture; findings: Pick<Findings, 'messages'> } {
  const ids = [...new Set(fields.map((f) => f.id))];
  const senders = ids.map((id): Sender => {
    const own = fields.filter((f) => f.id === id);
    return {
      id,
      bus: own[0]?.bus ?? 0,
      length: 8,
      periodS: 0.02,
      frames: seconds * 50,
      fill: (p, i) => {
        for (const f of own)
          writeBits(
            p,
            0,
            { start: f.start, length: f.length, byteOrder: 'little' },
            Math.round(f.value(i * 0.02)),
          );
      },
    };
  });
  const messages = ids.map((id) => {
    const own = fields.filter((f) => f.id === id);
    return {
      bus: own[0]?.bus ?? 0,
      id,
      extended: false,
      length: 8,
      selector: null,
      signals: own.map(
        (f): FoundSignal => ({
          start: f.start,
          length: f.length,
          byteOrder: 'little',
          signed: f.signed ?? false,
          kind: f.kind ?? 'number',
          scale: 1,
          offset: 0,
          unit: '',
          selectorValue: null,
          probability: 1,
          evidence: [],
        }),
      ),
    };
  });
  return { capture: captureOf(senders), findings: { messages: messages as unknown as Findings['messages'] } };
}

function related({ capture, findings }: ReturnType<typeof traffic>): Relations {
  const steps = relateSteps(capture, findings);
  let step = steps.next();
  while (!step.done) step = steps.next();
  return step.value;
}

const words = ({ relations }: Relations) =>
  relations.map(
    (r) => `${r.kind} ${r.from.id.toString(16)}:${r.from.start} ${r.to.id.toString(16)}:${r.to.start}`,
  );

const swing = (t: number) => Math.sin(t / 2.1) + 0.6 * Math.sin(t / 0.9 + 1) + 0.3 * Math.sin(t / 5.3);
const other = (t: number) => Math.sin(t / 3.3 + 2) + 0.5 * Math.sin(t / 1.37);

describe('relations between signals', () => {
  test('a copy on another bus in half the resolution is found, with its delay', () => {
    const found = related(
      traffic([
        { id: 0x100, start: 0, length: 14, value: (t) => 8000 + 3000 * swing(t) },
        { id: 0x200, bus: 1, start: 8, length: 13, value: (t) => 4000 + 1500 * swing(t - 0.1) },
        { id: 0x300, start: 0, length: 12, value: (t) => 2000 + 900 * other(t) },
      ]),
    );
    expect(words(found)).toEqual(['copy 100:0 200:8']);
    const [copy] = found.relations;
    expect(copy?.factor).toBe(0.5);
    expect(copy?.delayLowS).toBeLessThanOrEqual(0.1);
    expect(copy?.delayHighS).toBeGreaterThanOrEqual(0.09);
    expect(copy?.probability).toBeGreaterThan(0.8);
    expect(found.copies.map((list) => list.map((p) => p.id))).toEqual([[0x100, 0x200]]);
  });

  test('two tracks in a fixed ratio, an inverted copy and a flag that is sent twice', () => {
    const flag = (t: number) => (t % 13 < 4 ? 1 : 0);
    const found = related(
      traffic([
        { id: 0x100, start: 0, length: 12, value: (t) => 1800 + 700 * swing(t) },
        { id: 0x100, start: 16, length: 12, value: (t) => 900 + 350 * swing(t) },
        { id: 0x200, start: 0, length: 12, value: (t) => 2000 + 700 * other(t) },
        { id: 0x200, start: 16, length: 12, value: (t) => 4095 - Math.round(2000 + 700 * other(t)) },
        { id: 0x300, start: 0, length: 1, kind: 'flag', value: flag },
        { id: 0x400, start: 9, length: 1, kind: 'flag', value: flag },
      ]),
    );
    expect(words(found).sort()).toEqual(['copy 300:0 400:9', 'inverse 200:0 200:16', 'ratio 100:0 100:16']);
    const inverse = found.relations.find((r) => r.kind === 'inverse');
    expect(inverse).toMatchObject({ factor: -1, offset: 4095 });
    expect(found.names.map((n) => n.name).sort()).toEqual(['inverted copy', 'two tracks']);
  });

  test('a value and its rate of change', () => {
    const found = related(
      traffic([
        { id: 0x100, start: 0, length: 16, value: (t) => 30000 + 9000 * swing(t) },
        {
          id: 0x200,
          start: 0,
          length: 12,
          value: (t) => 2000 + (1000 * (swing(t + 0.01) - swing(t - 0.01))) / 0.02,
        },
      ]),
    );
    expect(words(found)).toEqual(['rate 100:0 200:0']);
    expect(found.relations[0]?.factor).toBeCloseTo(1000 / 9000, 2);
  });

  test('four wheels that split in bends, and speed × yaw rate = lateral acceleration', () => {
    const dice = random(3);
    const speed = (t: number) => 4000 + 2200 * Math.sin(t / 7) + 900 * Math.sin(t / 2.9);
    const yaw = (t: number) => 400 * Math.sin(t / 4.1) * Math.sin(t / 11) + 60 * Math.sin(t / 1.9);
    const noise = () => 4 * (dice() - 0.5);
    const found = related(
      traffic([
        { id: 0x100, start: 0, length: 14, value: (t) => speed(t) - 0.3 * yaw(t) + noise() },
        { id: 0x100, start: 16, length: 14, value: (t) => speed(t) + 0.3 * yaw(t) + noise() },
        { id: 0x110, start: 0, length: 14, value: (t) => speed(t) - 0.29 * yaw(t) + noise() },
        { id: 0x110, start: 16, length: 14, value: (t) => speed(t) + 0.29 * yaw(t) + noise() },
        { id: 0x120, start: 0, length: 12, signed: true, value: (t) => yaw(t) + noise() },
        { id: 0x130, start: 0, length: 12, signed: true, value: (t) => (yaw(t) * speed(t)) / 4000 + noise() },
      ]),
    );
    const wheels = found.names.find((n) => n.name === 'wheel speeds');
    expect(wheels?.signals.map(keyOf).sort()).toHaveLength(4);
    expect(wheels?.words).toContain('split in bends');
    const product = found.relations.find((r) => r.kind === 'product');
    expect([product?.with?.id, product?.to.id]).toEqual([0x120, 0x130]);
  });

  test('the difference of two signals', () => {
    const found = related(
      traffic([
        { id: 0x100, start: 0, length: 14, value: (t) => 5000 + 2000 * swing(t) },
        { id: 0x200, start: 0, length: 14, value: (t) => 5000 + 2000 * other(t) },
        { id: 0x300, start: 0, length: 14, value: (t) => 8000 + 1500 * swing(t) - 1500 * other(t) },
      ]),
    );
    expect(found.relations.map((r) => r.kind)).toEqual(['sum']);
    const [sum] = found.relations;
    expect(sum?.to.id).toBe(0x300);
    expect((sum?.factor ?? 0) * (sum?.withFactor ?? 0)).toBeLessThan(0);
  });

  test('constants, slow drifts and signals that wander by themselves are never related', () => {
    for (let seed = 1; seed <= 12; seed++) {
      const dice = random(seed);
      const fields: Field[] = [];
      for (let k = 0; k < 12; k++) {
        let v = 4000 + 4000 * dice();
        const drift = dice() * 3;
        fields.push({
          id: 0x100 + k,
          start: 0,
          length: 14,
          value:
            k < 4
              ? (t) => (k < 2 ? 1000 + drift * t : 12000 * (1 - Math.exp(-t / (12 + 4 * drift))))
              : k < 5
                ? () => 77
                : () => {
                    v = Math.min(16000, Math.max(0, v + 40 * (dice() + dice() - 1)));
                    return v;
                  },
        });
      }
      expect(words(related(traffic(fields, 60))), `seed ${seed}`).toEqual([]);
    }
  });

  test('the start of the clock and the order of messages make no difference', () => {
    const made = traffic(
      [
        { id: 0x100, start: 0, length: 14, value: (t) => 8000 + 3000 * swing(t) },
        { id: 0x200, start: 8, length: 13, value: (t) => 4000 + 1500 * swing(t) },
      ],
      40,
    );
    const plain = words(related(made));
    expect(plain).toHaveLength(1);
    fc.assert(
      fc.property(fc.integer({ min: -1e5, max: 1e5 }), (shift) => {
        const capture = { ...made.capture, time: made.capture.time.map((t) => t + shift) };
        const findings = { messages: [...made.findings.messages].reverse() };
        expect(words(related({ capture, findings }))).toEqual(plain);
      }),
      { numRuns: 3 },
    );
  });
});

describe.runIf(DATA_IS_HERE)('a boat (skipped where ../shared/data is not there)', () => {
  test('the heading of one group is the yaw of another, as the public layouts say', async () => {
    const { capture } = await readCaptureFile(resolve(DATA, 'boat-11/run-a.csv.gz'));
    // Every pair of bytes of every message in little-endian order, the one of groups 127250 (heading) and 127257 (yaw) among
    // them: bits 8 to 23 in both, 0.0001 rad (../shared/data/boat-11/truth.json).
    const messages = groupByMessage(capture).map(({ bus, id, extended }) => ({
      bus,
      id,
      extended,
      length: 8,
      selector: null,
      signals: [8, 24, 40].map((start) => ({
        start,
        length: 16,
        byteOrder: 'little',
        signed: false,
        kind: 'number',
        selectorValue: null,
      })),
    }));
    const found = related({ capture, findings: { messages: messages as unknown as Findings['messages'] } });
    const copies = found.copies.filter((list) => list.some((p) => p.id === 0x09f112cc && p.start === 8));
    expect(copies).toHaveLength(1);
    const ids = copies[0]?.map((p) => `${p.id.toString(16)}:${p.start}`);
    expect(ids).toContain('9f119cc:8');
    const [heading] = found.relations.filter(
      (r) => (r.kind === 'copy' && r.to.id === 0x09f119cc) || r.from.id === 0x09f119cc,
    );
    expect(heading?.factor).toBe(1);
  });
});
