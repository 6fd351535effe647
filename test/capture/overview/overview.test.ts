import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { readRaw } from '../../../src/can/bits.ts';
import { FLAG } from '../../../src/can/frame.ts';
import {
  boundOf,
  FieldOverTime,
  framesIn,
  packed,
  RateOverTime,
  timeOrder,
  unpacked,
} from '../../../src/capture/overview/index.ts';
import { type Capture, CaptureBuilder } from '../../../src/capture/store.ts';

interface Frame {
  time: number;
  bus: number;
  id: number;
  flags: number;
  data: number[];
}

const frame: fc.Arbitrary<Frame> = fc.record({
  time: fc.integer({ min: -2000, max: 30_000 }).map((ms) => ms / 1000),
  bus: fc.constantFrom(0, 1, 7),
  id: fc.constantFrom(0x100, 0x101),
  flags: fc.constantFrom(0, 0, 0, 0, FLAG.extended, FLAG.remote, FLAG.error),
  data: fc.array(fc.integer({ min: 0, max: 255 }), { maxLength: 8 }),
});
/** As it comes, or by rising time as most recorders write it. */
const traffic = fc
  .tuple(fc.array(frame, { maxLength: 300, size: 'max' }), fc.boolean())
  .map(([frames, rises]) => (rises ? frames.sort((a, b) => a.time - b.time) : frames));
/** The same with one message on one bus and nothing else. */
const oneMessage = traffic.map((frames) =>
  frames.map((f) => ({ ...f, bus: 0, id: 0x100, flags: 0, data: [...f.data, 0, 0].slice(0, 8) })),
);
const span = fc
  .tuple(fc.integer({ min: -3000, max: 31_000 }), fc.integer({ min: 1, max: 20_000 }))
  .map(([from, width]) => ({ from: from / 1000, to: (from + width) / 1000 }));

function captureOf(frames: readonly Frame[]): Capture {
  const builder = new CaptureBuilder();
  for (const { time, bus, id, flags, data } of frames) {
    const remote = (flags & FLAG.remote) !== 0;
    builder.add(time, bus, id, flags, data.length, Uint8Array.from(data), 0, remote ? 0 : data.length);
  }
  return builder.finish();
}

const FIELD = { start: 4, length: 12, byteOrder: 'little', signed: true } as const;
const QUESTION = { bus: 0, id: 0x100, extended: false, field: FIELD, selector: null };

/** Values of the field the slow way, by rising time. */
function naive(frames: readonly Frame[]): { time: number; value: number }[] {
  return frames
    .filter(({ bus, id, flags, data }) => bus === 0 && id === 0x100 && flags === 0 && data.length >= 2)
    .map(({ time, data }) => ({ time, value: readRaw(Uint8Array.from(data), 0, FIELD) }))
    .sort((a, b) => a.time - b.time);
}

describe('a field over time', () => {
  test('shows the least and greatest value of every pixel, and nothing where no frame is', () => {
    fc.assert(
      fc.property(
        fc.oneof(traffic, oneMessage),
        span,
        fc.integer({ min: 1, max: 40 }),
        (frames, { from, to }, pixels) => {
          const view = new FieldOverTime(captureOf(frames), QUESTION).view(from, to, pixels);
          const all = naive(frames);
          const inside = all.filter(({ time }) => time >= from && time <= to);
          if (inside.length <= pixels) {
            const first = all.findIndex(({ time }) => time >= from);
            const start = first < 0 ? all.length : first;
            const wanted = all.slice(Math.max(0, start - 1), start + inside.length + 1);
            expect(view).toEqual({
              kind: 'single',
              time: Float64Array.from(wanted, (v) => v.time),
              value: Float64Array.from(wanted, (v) => v.value),
            });
            return;
          }
          if (view.kind !== 'cells')
            throw new Error('single values although there are more of them than pixels');
          const width = (to - from) / pixels;
          for (let k = 0; k < pixels; k++) {
            const [a, b] = [k === 0 ? from : from + k * width, from + (k + 1) * width];
            const values = inside
              .filter((v) => v.time >= a && (k === pixels - 1 || v.time < b))
              .map((v) => v.value);
            expect(view.low[k]).toBe(values.length === 0 ? Number.NaN : Math.min(...values));
            expect(view.high[k]).toBe(values.length === 0 ? Number.NaN : Math.max(...values));
          }
        },
      ),
    );
  });

  test('keeps a single peak among a hundred thousand values at any width', () => {
    const builder = new CaptureBuilder();
    for (let i = 0; i < 100_000; i++) {
      const peak = i === 54_321 ? [0xf0, 0x7f] : [0, 0];
      builder.add(i / 1000, 0, 0x100, 0, 2, Uint8Array.from(peak), 0, 2);
    }
    const field = new FieldOverTime(builder.finish(), QUESTION);
    expect(field.range()).toEqual({ low: 0, high: 0x7ff });
    for (const pixels of [1, 3, 100, 1999]) {
      const view = field.view(0, 100, pixels);
      if (view.kind !== 'cells') throw new Error('expected cells');
      expect(view.high.indexOf(0x7ff)).toBe(Math.floor((54.321 / 100) * pixels));
      expect(view.high.filter((v) => v !== 0)).toHaveLength(1);
    }
  });

  test('behind a selector holds only its frames; without frames it has no range', () => {
    const data = (selector: number, value: number) => [0, value, selector];
    const frames = [1, 2, 1].map((s, i) => ({ time: i, bus: 0, id: 0x100, flags: 0, data: data(s, i + 1) }));
    const selector = { field: { start: 16, length: 8, byteOrder: 'little' as const }, value: 1 };
    const field = new FieldOverTime(captureOf(frames), { ...QUESTION, selector });
    expect([...field.time]).toEqual([0, 2]);
    expect(field.range()).toEqual({ low: 16, high: 48 });
    const none = new FieldOverTime(captureOf(frames), { ...QUESTION, bus: 5 });
    expect(none.range()).toBeNull();
    expect(none.view(0, 1, 10)).toEqual({
      kind: 'single',
      time: new Float64Array(),
      value: new Float64Array(),
    });
  });
});

test('rates of every level add up to the frames, and lie between the rates of the cells within', () => {
  fc.assert(
    fc.property(traffic, fc.integer({ min: 1, max: 400 }), (frames, pixels) => {
      const real = frames.filter(({ flags }) => (flags & FLAG.error) === 0);
      const rate = new RateOverTime(captureOf(frames));
      expect(rate.buses).toEqual([...new Set(real.map(({ bus }) => bus))].sort((a, b) => a - b));
      const view = rate.view(rate.first, rate.last, pixels);
      for (const [i, { bus, mean, low, high }] of view.buses.entries()) {
        expect(mean.length).toBeLessThanOrEqual(pixels);
        const times = real.filter((f) => f.bus === bus).map(({ time }) => time);
        expect(rate.frames[i]).toBe(times.length);
        const fine = Math.floor((rate.last - rate.first) / rate.cellS) + 1;
        const counts = new Array<number>(fine).fill(0);
        for (const t of times) {
          const at = Math.min(fine - 1, Math.floor((t - rate.first) / rate.cellS));
          counts[at] = (counts[at] as number) + 1;
        }
        const group = Math.round(view.cellS / rate.cellS);
        for (let k = 0; k < mean.length; k++) {
          const within = counts.slice(k * group, (k + 1) * group);
          const sum = within.reduce((a, n) => a + n, 0);
          expect(mean[k]).toBeCloseTo(sum / within.length / rate.cellS, 3);
          expect(low[k]).toBeCloseTo(Math.min(...within) / rate.cellS, 3);
          expect(high[k]).toBeCloseTo(Math.max(...within) / rate.cellS, 3);
        }
      }
    }),
  );
});

test('a view of a stretch is cut out of the view of the whole, cell by cell', () => {
  fc.assert(
    fc.property(traffic, span, (frames, { from, to }) => {
      const rate = new RateOverTime(captureOf(frames));
      const all = rate.view(rate.first, rate.last, 1e6);
      const part = rate.view(from, to, 1e6);
      const skipped = Math.round((part.start - all.start) / all.cellS);
      for (const [i, { mean }] of part.buses.entries())
        expect([...mean]).toEqual([...(all.buses[i]?.mean.slice(skipped, skipped + mean.length) ?? [])]);
    }),
  );
});

test('single frames come in the order of time with all they carry, and only where they are few', () => {
  fc.assert(
    fc.property(traffic, span, fc.integer({ min: 0, max: 100 }), (frames, { from, to }, most) => {
      const capture = captureOf(frames);
      const order = timeOrder(capture.time);
      const sorted =
        order === null ? capture.time : Float64Array.from(order, (i) => capture.time[i] as number);
      const found = framesIn(capture, order, sorted, { from, to, most });
      const wanted = frames.filter(({ time }) => time >= from && time <= to).sort((a, b) => a.time - b.time);
      expect(found.count).toBe(wanted.length);
      if (wanted.length > most) {
        expect(found.frames).toBeNull();
        return;
      }
      const got = found.frames;
      if (got === null) throw new Error('no frames although they are few');
      let at = 0;
      const read = wanted.map((_, k) => {
        const bytes = got.payload.slice(at, (at += got.stored[k] as number));
        return [got.time[k], got.bus[k], got.id[k], got.flags[k], got.length[k], [...bytes]];
      });
      expect(read).toEqual(
        wanted.map((f) => [
          f.time,
          f.bus,
          f.id,
          f.flags,
          f.data.length,
          (f.flags & FLAG.remote) !== 0 ? [] : f.data,
        ]),
      );
    }),
  );
});

test('the order of time is stable, and none is made where times rise already', () => {
  fc.assert(
    fc.property(fc.array(fc.integer({ min: 0, max: 50 }), { maxLength: 300 }), (times) => {
      const time = Float64Array.from(times);
      const wanted = times
        .map((_, i) => i)
        .sort((a, b) => (times[a] as number) - (times[b] as number) || a - b);
      const order = timeOrder(time);
      expect(order === null ? times.map((_, i) => i) : [...order]).toEqual(wanted);
      const rising = Float64Array.from(wanted, (i) => times[i] as number);
      expect(timeOrder(rising)).toBeNull();
      for (const value of [0, 17, 50]) {
        expect(boundOf(rising, value, 'low')).toBe(rising.filter((t) => t < value).length);
        expect(boundOf(rising, value, 'high')).toBe(rising.filter((t) => t <= value).length);
      }
    }),
  );
});

describe('packed columns', () => {
  const column = fc.oneof(
    fc.float64Array({ maxLength: 20 }),
    fc.float32Array({ maxLength: 20 }),
    fc.uint32Array({ maxLength: 20 }),
    fc.uint8Array({ maxLength: 20 }),
  );

  test('come back as they were', () => {
    fc.assert(
      fc.property(fc.dictionary(fc.string({ minLength: 1 }), column), fc.jsonValue(), (columns, values) => {
        const back = unpacked(packed(values, columns).buffer);
        expect(back.values).toEqual(JSON.parse(JSON.stringify(values)));
        expect(Object.keys(back.columns).sort()).toEqual(Object.keys(columns).sort());
        for (const [name, wanted] of Object.entries(columns))
          expect([...(back.columns[name] ?? [])]).toEqual([...wanted]);
      }),
    );
  });

  test('cut short at any byte are refused', () => {
    const bytes = packed({ a: 1 }, { x: Float64Array.of(1, 2), y: Uint8Array.of(1, 2, 3) });
    for (let n = 0; n < bytes.length; n++)
      expect(() => unpacked(bytes.slice(0, n).buffer), `${n} bytes`).toThrow('cut short');
  });
});
