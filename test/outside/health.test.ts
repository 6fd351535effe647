/**
 * Health reports of real recordings, each of which holds one car or boat with one sender for each identifier. Sources:
 * car-500k, boat-11, truck-j1939 and tractor, with address and licence in each folder's SOURCE.md.
 */
import { beforeAll, describe, expect, test } from 'vitest';
import { idKey } from '../../src/can/frame.ts';
import { conversationsOf } from '../../src/capture/conversations.ts';
import { type CounterPlace, healthOf } from '../../src/capture/health.ts';
import { pickFrames } from '../../src/capture/select.ts';
import type { Capture } from '../../src/capture/store.ts';
import { countersIn } from '../../src/cli/healthCounters.ts';
import { DATA, DATA_IS_HERE, readRecordings } from '../findings/recordings.ts';

if (!DATA_IS_HERE && process.env.CI) throw new Error(`${DATA} is missing`);

describe.skipIf(!DATA_IS_HERE)('real recordings', () => {
  test.each(['boat-11/run-b', 'truck-j1939/engine-idle', 'tractor/start-1', 'tractor/high-rpm-1'])(
    '%s shows no second sender and no clock that goes back',
    async (name) => {
      const capture = await readRecordings(`${name}.csv.gz`);
      const { carriers } = conversationsOf(capture);
      const report = healthOf(capture, { counters: countersIn(capture, () => {}), carriers });
      expect(report.messages.filter((m) => m.senders !== null)).toEqual([]);
      expect(report.clock.backCount).toBe(0);
    },
  );

  describe('a car with 30 counters', () => {
    let capture: Capture;
    let counters: CounterPlace[];
    const key = (i: number) => idKey(capture.id[i]!, capture.flags[i]!);

    beforeAll(async () => {
      capture = await readRecordings('car-500k/drive-b.csv.gz');
      counters = countersIn(capture, () => {});
    });

    test('its bus is at most full, nothing is lost by its counters, and nothing is sent by two', () => {
      const report = healthOf(capture, { counters, bitRates: new Map([[0, 500_000]]) });
      expect(counters.length).toBeGreaterThan(25);
      const { greatest } = report.buses[0]!.load;
      expect(greatest).toBeGreaterThan(0.3);
      expect(greatest).toBeLessThan(1); // its folder's name states 500 kbit/s
      const counting = report.messages.filter((m) => m.lost?.by === 'counter');
      expect(counting.length).toBeGreaterThan(25);
      expect(counting.reduce((sum, m) => sum + m.lost!.frames, 0)).toBe(0);
      expect(report.messages.filter((m) => m.senders !== null)).toEqual([]);
    });

    test('frames taken out of it are counted as lost, every one', () => {
      const seed = 20261125;
      let state = seed;
      const random = () => {
        // xorshift32 (Marsaglia 2003)
        state ^= state << 13;
        state ^= state >>> 17;
        state ^= state << 5;
        return (state >>> 0) / 2 ** 32;
      };
      const counting = new Set(counters.map((c) => c.idKey));
      const inner = Array.from({ length: capture.count }, (_, i) => i);
      // A frame lost at the very start or end leaves no trace.
      const taken = new Set(
        inner.filter(
          (i) => counting.has(key(i)) && capture.time[i]! > 2 && capture.time[i]! < 10 && random() < 0.02,
        ),
      );
      const kept = pickFrames(capture, Uint32Array.from(inner.filter((i) => !taken.has(i))));
      const lost = healthOf(kept, { counters })
        .messages.filter((m) => m.lost?.by === 'counter')
        .reduce((sum, m) => sum + m.lost!.frames, 0);
      expect(taken.size, `seed ${seed}`).toBeGreaterThan(200);
      expect(lost, `seed ${seed}`).toBe(taken.size);
    });

    test('a message doubled by a second unit, five seconds long, is found with its place', () => {
      const id = 0x101;
      const own = Array.from({ length: capture.count }, (_, i) => i).filter((i) => key(i) === id);
      // The second unit sends what the first one sent a second before, 4 ms later than the first one sends.
      const extra = own.filter((i) => capture.time[i]! > 2.2 && capture.time[i]! < 7.2);
      const order = [
        ...Array.from({ length: capture.count }, (_, i) => ({ i, t: capture.time[i]! })),
        ...extra.map((i) => ({ i, t: capture.time[i]! + 1.004 })),
      ].sort((a, b) => a.t - b.t);
      const doubled = pickFrames(
        capture,
        Uint32Array.from(order, (o) => o.i),
      );
      order.forEach((o, k) => {
        doubled.time[k] = o.t;
      });
      const report = healthOf(doubled, { counters: countersIn(doubled, () => {}) });
      const found = report.messages.filter((m) => m.senders !== null);
      expect(found.map((m) => m.id)).toEqual([id]);
      expect(found[0]!.senders!.fromS).toBeCloseTo(3.2, 0);
      expect(found[0]!.senders!.toS).toBeCloseTo(8.2, 0);
    });
  });
});
