import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { FLAG } from '../../src/can/frame.ts';
import { classicalFrameBits } from '../../src/can/length.ts';
import { type CounterPlace, healthOf } from '../../src/capture/health.ts';
import { captureOf, type Frame, frame, framesArbitrary } from './frames.ts';

const counterOf = (id: number): CounterPlace => ({
  bus: 0,
  idKey: id,
  start: 0,
  length: 4,
  byteOrder: 'little',
  step: 1,
  skip: [],
});

interface Sender {
  id: number;
  fromS?: number;
  toS: number;
  periodS: number;
  /** Count of its first frame. */
  count?: number;
  drop?: (n: number) => boolean;
}

/** Frames of units that send by their own clocks; byte 0 counts, the stamps tremble by up to 0.2 ms. */
function traffic(...senders: Sender[]): Frame[] {
  const frames: Frame[] = [];
  for (const { id, fromS = 0, toS, periodS, count = 0, drop } of senders) {
    for (let n = 0; fromS + n * periodS < toS; n++) {
      if (drop?.(n)) continue;
      const t = fromS + n * periodS + 0.0002 * Math.abs(Math.sin(n * 12.9898 + id));
      frames.push(frame(Math.round(t * 1e9), id, [(count + n) & 15, 0x55, n & 255]));
    }
  }
  return frames.sort((a, b) => Number(a.ns - b.ns));
}

const report = (frames: Frame[], ids: number[] = [], more: Parameters<typeof healthOf>[1] = {}) =>
  healthOf(captureOf(frames), { counters: ids.map(counterOf), ...more });

describe('load', () => {
  test('is the exact bits of every frame over the bit rate, window by window', () => {
    fc.assert(
      fc.property(framesArbitrary('many'), (frames) => {
        const capture = captureOf(frames);
        const { buses } = healthOf(capture, { windowS: 60 });
        let bits = 0;
        for (let i = 0; i < capture.count; i++) {
          const flags = capture.flags[i]!;
          if (flags & (FLAG.error | FLAG.fd)) continue;
          bits += classicalFrameBits(
            capture.id[i]!,
            flags,
            capture.payload,
            capture.offset[i]!,
            capture.length[i]!,
          );
        }
        const hasFd = frames.some((f) => f.flags & FLAG.fd && !(f.flags & FLAG.error));
        const told = buses.reduce((sum, b) => sum + b.bits, 0);
        if (hasFd) expect(told).toBeGreaterThan(bits);
        else expect(told).toBe(bits);
        for (const b of buses) {
          const windows = [...b.load.nominalBits, ...b.load.dataBits].reduce((x, y) => x + y, 0);
          expect(windows).toBeCloseTo(b.bits, 6);
        }
        expect(buses.reduce((sum, b) => sum + b.frames, 0)).toBe(frames.length);
      }),
    );
  });

  test('needs a bit rate, and is told for each bus', () => {
    const frames = Array.from({ length: 1001 }, (_, k) =>
      frame(k * 10_000_000, 0x100, [1, 2, 3, 4, 5, 6, 7, 8]),
    );
    const bits = classicalFrameBits(0x100, 0, Uint8Array.of(1, 2, 3, 4, 5, 6, 7, 8), 0, 8);
    const [bus] = report(frames, [], { bitRates: new Map([[0, 500_000]]) }).buses;
    expect(bus?.load.greatest).toBeCloseTo((100 * bits) / 500_000, 9);
    expect(bus?.load.mean).toBeCloseTo((1001 * bits) / 10 / 500_000, 9);
    expect(report(frames).buses[0]?.load).toMatchObject({ share: null, mean: null, greatest: null });
  });

  test('of CAN FD counts the fast bits at their own rate', () => {
    const data = Array.from({ length: 64 }, (_, k) => k * 37);
    const flags = FLAG.fd | FLAG.bitRateSwitch;
    const frames = Array.from({ length: 101 }, (_, k) => frame(k * 10_000_000, 0x100, data, { flags }));
    const load = (fast: number) =>
      report(frames, [], { bitRates: new Map([[0, 500_000]]), dataBitRates: new Map([[0, fast]]) }).buses[0]!
        .load;
    const { nominalBits, dataBits, share } = load(2_000_000);
    expect(share![0]).toBeCloseTo(nominalBits[0]! / 500_000 + dataBits[0]! / 2_000_000, 9);
    expect(load(500_000).mean).toBeGreaterThan(2 * load(2_000_000).mean!);
  });
});

describe('what is wrong with a bus or a clock', () => {
  test('error messages are counted by kind', () => {
    const error = (ns: number, kind: number) => frame(ns, kind, Array(8).fill(0), { flags: FLAG.error });
    const [bus] = report([error(0, 0x20), error(1e6, 0xa0), frame(2e6, 0x100, [])]).buses;
    expect(bus).toMatchObject({
      errorFrames: 2,
      errorClasses: [
        { name: 'no acknowledgement', count: 2 },
        { name: 'bus error', count: 1 },
      ],
    });
  });

  const ids = [0x101, 0x102, 0x103];
  const senders = (toS: number): Sender[] => ids.map((id, k) => ({ id, toS, periodS: 0.01 * (k + 1) }));

  test('a silence that the recorder missed is told from a jump of the clock by the counters', () => {
    const all = traffic(...senders(20));
    const missed = all.filter((f) => f.ns < 8e9 || f.ns > 10.047e9);
    const [gap, ...others] = report(missed, ids).buses[0]!.gaps;
    expect(others).toEqual([]);
    expect(gap).toMatchObject({ told: 'lost' });
    expect(gap!.toS - gap!.fromS).toBeCloseTo(2.05, 1);
    const jumped = all.map((f) => ({ ...f, ns: f.ns < 8e9 ? f.ns : f.ns + 2_047_000_000n }));
    expect(report(jumped, ids).buses[0]!.gaps).toMatchObject([{ told: 'clock' }]);
    expect(report(jumped).buses[0]!.gaps).toMatchObject([{ told: 'open' }]);
    // 1.61 s are 161 periods of 10 ms, and 161 = 1 modulo 16: these counters cannot tell one from the other.
    const alike = ids.map((id) => ({ id, toS: 20, periodS: 0.01 }));
    const unclear = traffic(...alike).filter((f) => f.ns < 8e9 || f.ns > 9.5999e9);
    expect(report(unclear, ids).buses[0]!.gaps).toMatchObject([{ told: 'open' }]);
    // The gap of the bus is no loss of one message.
    for (const m of report(missed, ids).messages) expect(m.lost).toEqual({ frames: 0, by: 'counter' });
  });

  test('a clock that steps back is reported with frame and size, disorder between buses beside it', () => {
    const frames = traffic(...senders(2)).map((f) => ({ ...f, ns: f.ns < 1e9 ? f.ns : f.ns - 500_000_000n }));
    const { clock } = report(frames);
    expect(clock.backCount).toBe(1);
    expect(clock.back[0]!.byS).toBeCloseTo(0.5, 1);
    expect(frames[clock.back[0]!.frame]!.ns).toBeLessThan(1e9);
    const other = [frame(5e6, 1, [], { bus: 1 }), frame(4e6, 1, []), frame(6e6, 1, [])];
    expect(report(other).clock).toMatchObject({ backCount: 0, outOfOrder: 1 });
  });

  test('a clock that jumps by years asks for no more than 100,000 windows', () => {
    const frames = [frame(0, 1, []), frame(3_000_000_000_000_000_000n, 1, [])].map((f) => ({
      ...f,
      ns: f.ns / 10n,
    }));
    expect(report(frames).buses[0]!.load.nominalBits.length).toBeLessThanOrEqual(100_001);
  });
});

describe('messages', () => {
  test('lost frames are counted by the counter, also where it went round unseen', () => {
    const drop = (n: number) => [100, 101, 102, 300].includes(n) || (n >= 500 && n < 520);
    const keeper: Sender = { id: 0x200, toS: 20, periodS: 0.005 };
    const [m] = report(traffic({ id: 0x101, toS: 10, periodS: 0.01, drop }, keeper), [0x101]).messages;
    expect(m).toMatchObject({ id: 0x101, lost: { frames: 24, by: 'counter' }, repeated: 0, senders: null });
    expect(m!.periodMs).toBeCloseTo(10, 1);
    expect(m!.jitterMs).toBeLessThan(0.3);
  });

  test('without a counter by the gaps of a steady rhythm, and not at all where there is none', () => {
    const drop = (n: number) => [100, 101, 300].includes(n);
    const keeper: Sender = { id: 0x200, toS: 20, periodS: 0.005 };
    const [m] = report(traffic({ id: 0x101, toS: 10, periodS: 0.01, drop }, keeper)).messages;
    expect(m!.lost).toEqual({ frames: 3, by: 'gaps' });
    const odd = Array.from({ length: 200 }, (_, k) =>
      frame(Math.round(1e9 * (k * 0.1 + 0.09 * Math.sin(k * k))), 0x300, [k]),
    );
    expect(report(odd).messages[0]).toMatchObject({ periodMs: null, lost: null, repeated: null });
  });

  test('two units with counters of their own under one identifier are seen, from when to when', () => {
    const first: Sender = { id: 0x101, toS: 20, periodS: 0.01 };
    const second: Sender = { id: 0x101, fromS: 5.0037, toS: 15, periodS: 0.01, count: 7 };
    const [m] = report(traffic(first, second), [0x101]).messages;
    expect(m!.senders).toMatchObject({ sign: 'counters' });
    expect(m!.senders!.fromS).toBeCloseTo(5, 0);
    expect(m!.senders!.toS).toBeCloseTo(15, 0);
    expect(m!.lost).toBeNull();
  });

  test('without counters two rhythms are seen where one comes and goes, or where they drift', () => {
    const first: Sender = { id: 0x101, toS: 20, periodS: 0.01 };
    const joins: Sender = { id: 0x101, fromS: 5.0031, toS: 15, periodS: 0.01 };
    expect(report(traffic(first, joins)).messages[0]!.senders).toMatchObject({ sign: 'phases' });
    const drifts: Sender = { id: 0x101, fromS: 0.002, toS: 20, periodS: 0.0100006 };
    expect(report(traffic(first, drifts)).messages[0]!.senders).toMatchObject({ sign: 'phases' });
  });

  test('one unit that sends twice a period, or every value twice, or parts of transfers, is not two', () => {
    const twice = traffic(
      { id: 0x101, toS: 20, periodS: 0.01 },
      { id: 0x101, fromS: 0.002, toS: 20, periodS: 0.01 },
    );
    expect(report(twice).messages[0]!.senders).toBeNull();
    const values = traffic({ id: 0x101, toS: 20, periodS: 0.01 }).map((f, k) => ({
      ...f,
      data: [(k >> 1) & 15, 0, 0],
    }));
    expect(report(values, [0x101]).messages[0]!.senders).toBeNull();
    const both = traffic(
      { id: 0x101, toS: 20, periodS: 0.01 },
      { id: 0x101, fromS: 5.003, toS: 15, periodS: 0.01, count: 5 },
    );
    const carriers = [{ bus: 0, idKey: 0x101 }];
    expect(report(both, [0x101], { carriers }).messages[0]!.senders).toBeNull();
  });

  test('one unit that changes the rhythm of its two frames by a jump is not two', () => {
    const senders = [0.25, 0.4].flatMap((phase, k): Sender[] => [
      { id: 0x101, fromS: 10 * k, toS: 10 * k + 10, periodS: 0.1 },
      { id: 0x101, fromS: 10 * k + 0.1 * phase, toS: 10 * k + 10, periodS: 0.1 },
    ]);
    expect(report(traffic(...senders)).messages[0]!.senders).toBeNull();
  });

  test('a single unit that loses frames at random is not two', () => {
    fc.assert(
      fc.property(fc.array(fc.nat(999), { maxLength: 120 }), (lost) => {
        const drop = (n: number) => lost.includes(n);
        const [m] = report(traffic({ id: 0x101, toS: 10, periodS: 0.01, drop }), [0x101]).messages;
        expect(m!.senders).toBeNull();
      }),
      { numRuns: 50 },
    );
  });
});

test('any recording gives a report, with any counters', () => {
  fc.assert(
    fc.property(
      framesArbitrary('many'),
      fc.integer({ min: -3, max: 3 }),
      fc.nat(60),
      (frames, step, start) => {
        const counters = frames
          .slice(0, 5)
          .map((f) => ({ ...counterOf(f.id), bus: f.bus, step, start, skip: step > 1 ? [] : [15] }));
        const health = healthOf(captureOf(frames), { counters });
        expect(health.frames).toBe(frames.length);
      },
    ),
    { numRuns: 200 },
  );
  expect(healthOf(captureOf([])).buses).toEqual([]);
});

test('work can be stopped', () => {
  const signal = AbortSignal.abort(new Error('stopped'));
  expect(() => healthOf(captureOf([frame(0, 1, [])]), { signal })).toThrow('stopped');
});
