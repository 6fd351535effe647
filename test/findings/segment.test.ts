import { describe, expect, test } from 'vitest';
import { fieldBits, writeBits } from '../../src/can/bits.ts';
import type { MessageRows } from '../../src/findings/rows.ts';
import { busStyle, cutMessage, draftSegmentation } from '../../src/findings/segment.ts';
import { random, rowsOf } from './traffic.ts';

interface Field {
  start: number;
  length: number;
  byteOrder: 'little' | 'big';
}

/** Swings between two ends as vehicle signals do: smooth, through the whole range, at a rate that changes. */
function smooth(seed: number, low: number, high: number, noise = 0.0004): (i: number) => number {
  const dice = random(seed);
  let phase = 6 * dice();
  let rate = 0.02 + 0.02 * dice();
  return () => {
    rate = Math.min(0.05, Math.max(0.01, rate + 0.004 * (dice() - 0.5)));
    phase += rate;
    const v = low + (high - low) * (0.5 + 0.52 * Math.sin(phase) + noise * (dice() - 0.5));
    return Math.round(Math.min(high, Math.max(low, v)));
  };
}

function flips(seed: number, share: number): (i: number) => number {
  const dice = random(seed);
  let state = 0;
  return () => {
    if (dice() < share) state ^= 1;
    return state;
  };
}

function message(
  fields: { field: Field; value: (i: number) => number }[],
  frames = 700,
  length = 8,
): MessageRows {
  return rowsOf({
    id: 0x100,
    length,
    frames,
    fill: (p, i) => {
      for (const { field, value } of fields) writeBits(p, 0, field, value(i));
    },
  });
}

function cut(...messages: MessageRows[]) {
  const drafts = messages.map((rows) => draftSegmentation(rows, new Uint8Array(8 * rows.length)));
  const style = busStyle(drafts);
  return drafts.map((draft, k) => cutMessage(draft, style, k, 0.9));
}

const le = (start: number, length: number): Field => ({ start, length, byteOrder: 'little' });
const be = (start: number, length: number): Field => ({ start, length, byteOrder: 'big' });

describe('a payload is cut where its signals end', () => {
  test('with two little-endian numbers, a flag and an idle byte', () => {
    const [signals] = cut(
      message([
        { field: le(0, 16), value: smooth(1, 0, 65535) },
        { field: le(16, 12), value: smooth(2, 0, 4095) },
        { field: le(29, 1), value: flips(3, 0.03) },
      ]),
    );
    const moving = signals?.filter((s) => s.kind !== 'constant');
    expect(moving).toMatchObject([
      { ...le(0, 16), kind: 'number', signed: false },
      { ...le(16, 12), kind: 'number', signed: false },
      { ...le(29, 1), kind: 'flag' },
    ]);
  });

  test('with big-endian numbers, also one that starts in the middle of a byte', () => {
    const [signals] = cut(
      message([
        { field: be(7, 16), value: smooth(4, 0, 65535) },
        { field: be(19, 12), value: smooth(5, 0, 4095) },
        { field: be(39, 16), value: smooth(6, 0, 65535) },
      ]),
    );
    const moving = signals?.filter((s) => s.kind !== 'constant');
    expect(moving).toMatchObject([be(7, 16), be(19, 12), be(39, 16)]);
  });

  test('and a number that crosses zero is signed', () => {
    const value = smooth(7, -2000, 2000);
    const [signals] = cut(message([{ field: le(0, 16), value: (i) => value(i) & 0xffff }]));
    expect(signals?.[0]).toMatchObject({ ...le(0, 16), kind: 'number', signed: true });
  });

  test('and states that follow one another are an enumeration', () => {
    const dice = random(8);
    const gears = [0, 1, 2, 3, 4, 3, 2, 7];
    let at = 0;
    const value = () => {
      if (dice() < 0.03) at = (at + 1) % gears.length;
      return gears[at] as number;
    };
    const [signals] = cut(
      message([
        { field: le(8, 3), value },
        { field: le(24, 16), value: smooth(9, 0, 60000) },
      ]),
    );
    expect(signals?.find((s) => s.start === 8)).toMatchObject({ length: 3, kind: 'enum' });
  });
});

test('the byte order that other messages of the bus show decides where one message shows little', () => {
  const clear = [11, 12, 13].map((seed) => message([{ field: be(7, 16), value: smooth(seed, 0, 65535) }]));
  // Steps of a few hundred: carries across the byte edge are rare, its two bytes look alike in either order.
  const dice = random(14);
  let v = 30_000;
  const value = () => {
    if (dice() < 0.05) v = Math.floor(dice() * 65536);
    return v;
  };
  const faint = message([{ field: be(7, 16), value }], 300);
  const evidence = (signals: ReturnType<typeof cut>[number] | undefined) =>
    signals?.flatMap((s) => s.evidence.map((e) => e.text)).join(' ');
  expect(evidence(cut(...clear, faint)[3])).toMatch(
    /speak for this byte order, (about \d+|more than 1,000) to 1/,
  );
  expect(evidence(cut(faint)[0])).not.toContain('speak for this byte order');
});

describe('the sign of a number', () => {
  const sign = (top: number, length: number, encode: (v: number) => number) => {
    const value = smooth(31, -top, top, 0.002);
    const signals = cut(
      message([
        { field: le(4, length), value: (i) => encode(value(i)) },
        { field: le(32, 12), value: smooth(32, 0, 4095) },
      ]),
    )[0];
    return signals?.find((s) => s.start === 4);
  };

  test("is two's complement where the value jumps between the ends of its range", () => {
    expect(sign(1900, 12, (v) => (v + 4096) % 4096)).toMatchObject({ length: 12, signed: true });
  });

  test('stands in the top bit where the magnitude goes on as that bit flips', () => {
    expect(sign(1900, 12, (v) => (v < 0 ? 2048 - v : v))).toMatchObject({ length: 12, signed: 'magnitude' });
  });

  test('is none where the value only ever crosses the middle of its range', () => {
    expect(sign(1900, 12, (v) => v + 2048)).toMatchObject({ length: 12, signed: false });
  });

  test('is none where a value jumps between full and small by leaps', () => {
    const gap = smooth(33, 20, 1400, 0.002);
    const full = flips(34, 0.02);
    const [signals] = cut(message([{ field: le(4, 11), value: (i) => (full(i) ? 2000 : gap(i)) }]));
    expect(signals?.find((s) => s.start === 4)).toMatchObject({ signed: false });
  });
});

test('pieces of a text are one block of data, not numbers', () => {
  const text = 'Orchard co-operative, delivery van, build sheet 12 of 40';
  const rows = rowsOf({
    id: 0x300,
    length: 8,
    frames: 320,
    fill: (p, i) => {
      const piece = i % 8;
      p[0] = 1 + piece;
      for (let b = 0; b < 7; b++) p[b + 1] = text.charCodeAt(7 * piece + b);
    },
  });
  const block = cut(rows)[0]?.find((s) => s.length > 32);
  expect(block).toMatchObject({ ...le(8, 56), kind: 'number', signed: false });
  expect(block?.evidence[0]?.text).toContain('8 contents in 320 frames, 100 % of their bytes printable');
});

test('every bit of a payload lies in exactly one field or constant, whatever moves in it, over 60 seeds', () => {
  for (let seed = 1; seed <= 60; seed++) {
    const dice = random(seed);
    const length = 1 + Math.floor(dice() * 8);
    const mask = Uint8Array.from({ length }, () => Math.floor(dice() * 256) & Math.floor(dice() * 256));
    const rows = rowsOf({
      id: 1,
      length,
      frames: 30,
      fill: (p) => {
        for (let b = 0; b < length; b++) p[b] = Math.floor(dice() * 256) & (mask[b] as number);
      },
    });
    const taken = new Uint8Array(8 * length);
    for (let bit = 0; bit < taken.length; bit++) taken[bit] = dice() < 0.1 ? 1 : 0;
    const draft = draftSegmentation(rows, taken);
    const signals = cutMessage(draft, busStyle([draft]), 0, 0.9);
    const times = new Uint8Array(8 * length);
    for (const signal of signals)
      for (const bit of fieldBits(signal)) times[bit] = (times[bit] as number) + 1;
    expect(Array.from(times), `seed ${seed}`).toEqual(Array.from(taken, (t) => 1 - t));
  }
});

test('nearly all fields of made-up buses are cut exactly, and stated probabilities stay below 0.92', () => {
  let right = 0;
  let found = 0;
  let all = 0;
  for (let bus = 1; bus <= 3; bus++) {
    const order = bus % 2 === 0 ? be : le;
    const layouts = [0, 1, 2].map((m) => layout(10 * bus + m, order));
    cut(...layouts.map((fields) => message(fields, 500))).forEach((signals, m) => {
      const moving = signals.filter((s) => s.kind !== 'constant');
      const key = (f: Field) =>
        fieldBits(f)
          .sort((a, b) => a - b)
          .join();
      const truth = new Set((layouts[m] as { field: Field }[]).map(({ field }) => key(field)));
      all += truth.size;
      found += moving.length;
      right += moving.filter((s) => truth.has(key(s))).length;
      for (const s of moving) expect(s.probability).toBeLessThanOrEqual(0.92);
    });
  }
  expect((2 * right) / (found + all)).toBeGreaterThan(0.85);
});

/** Two numbers of 12 or 16 bits that use their whole range, an 8-bit one, two flags. */
function layout(seed: number, order: (start: number, length: number) => Field) {
  const big = order === be;
  const wide = big ? 7 : 0;
  return [
    { field: order(wide, 16), value: smooth(seed, 0, 65535) },
    { field: order(big ? 23 : 16, 12), value: smooth(seed + 100, 0, 4095) },
    { field: le(40, 8), value: smooth(seed + 200, 0, 255, 0.01) },
    { field: le(50, 1), value: flips(seed + 300, 0.02) },
    { field: le(53, 1), value: flips(seed + 400, 0.05) },
  ];
}
