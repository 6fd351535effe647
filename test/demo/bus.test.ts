import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { arbitrate, type Waiting } from '../../demo/generator/bus.ts';
import { FLAG } from '../../src/can/frame.ts';

const frame = (readyS: number, id: number, flags = 0): Waiting => ({
  readyS,
  id,
  flags,
  payload: Uint8Array.of(1, 2, 3, 4),
});

describe('arbitration', () => {
  test('of the frames that wait, the one with the lowest identifier goes first', () => {
    const seen = arbitrate(
      [frame(0, 0x400), frame(1e-5, 0x300), frame(2e-5, 0x100), frame(3e-5, 0x200)],
      500_000,
    );
    expect(seen.map((f) => f.id)).toEqual([0x400, 0x100, 0x200, 0x300]);
  });

  test('a base frame goes before an extended one whose first 11 bits are the same', () => {
    const same = 0x123 << 18;
    const first = frame(0, 0x7ff);
    const seen = arbitrate(
      [first, frame(1e-5, same, FLAG.extended), frame(1e-5, 0x123), frame(1e-5, same - 1, FLAG.extended)],
      500_000,
    );
    expect(seen.slice(1).map((f) => f.id)).toEqual([same - 1, 0x123, same]);
  });

  test('no frame is lost, none starts before it is ready, and none starts while another is on the bus', () => {
    fc.assert(
      fc.property(
        fc.array(fc.tuple(fc.integer({ min: 0, max: 3000 }), fc.integer({ min: 0, max: 0x7ff })), {
          maxLength: 60,
        }),
        (list) => {
          const frames = list.map(([us, id]) => frame(us / 1e6, id)).sort((a, b) => a.readyS - b.readyS);
          const seen = arbitrate(frames, 500_000);
          expect(seen.map((f) => f.id).sort()).toEqual(frames.map((f) => f.id).sort());
          seen.forEach((f, i) => {
            // 79 bits at least without the intermission.
            const latestStart = f.timeS - 76 / 500_000;
            expect(latestStart).toBeGreaterThan(f.readyS - 2e-6);
            if (i > 0) expect(latestStart).toBeGreaterThan(seen[i - 1]!.timeS - 2e-6);
          });
        },
      ),
    );
  });
});
