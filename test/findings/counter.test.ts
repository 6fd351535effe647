import { describe, expect, test } from 'vitest';
import { fieldBits, writeBits } from '../../src/can/bits.ts';
import { findCounters } from '../../src/findings/counter.ts';
import type { MessageRows } from '../../src/findings/rows.ts';
import { driving, random, rowsOf, type Sender } from './traffic.ts';

function countersOf(rows: MessageRows) {
  return findCounters(rows, { periodS: 0.01, taken: new Uint8Array(8 * rows.length) });
}

interface Place {
  start: number;
  length: number;
  byteOrder: 'little' | 'big';
}

function sender(place: Place, value: (i: number) => number, more: Partial<Sender> = {}): Sender {
  return { id: 0x111, length: 8, frames: 300, fill: driving(3), counter: { ...place, value }, ...more };
}

const NIBBLE: Place = { start: 48, length: 4, byteOrder: 'little' };

describe('a rolling counter is found', () => {
  test('at every alignment of four bits in the last three bytes, and only there', () => {
    for (let start = 40; start <= 60; start++) {
      const place = { ...NIBBLE, start };
      const found = countersOf(rowsOf(sender(place, (i) => i % 16)));
      // Across a byte edge, little-endian is what was sent.
      expect(found, `start ${start}`).toHaveLength(1);
      expect(found[0], `start ${start}`).toMatchObject({ ...place, step: 1, skip: [] });
    }
  });

  test('at every width from 2 to 12 bits in either byte order', () => {
    for (let length = 2; length <= 12; length++) {
      for (const byteOrder of ['little', 'big'] as const) {
        const place = { start: byteOrder === 'little' ? 44 : 42, length, byteOrder };
        const frames = Math.max(300, 2.5 * 2 ** length);
        const found = countersOf(rowsOf(sender(place, (i) => i % 2 ** length, { frames })));
        const inOneByte = new Set(fieldBits(place).map((bit) => bit >> 3)).size === 1;
        const expected = inOneByte ? { start: Math.min(...fieldBits(place)), length } : place;
        expect(found, `${length} bits ${byteOrder}`).toHaveLength(1);
        expect(found[0], `${length} bits ${byteOrder}`).toMatchObject(expected);
      }
    }
  });

  test('with 16 bits once it has rolled over', () => {
    const place: Place = { start: 40, length: 16, byteOrder: 'little' };
    const found = countersOf(rowsOf(sender(place, (i) => (i + 64_000) % 65_536, { frames: 3000 })));
    expect(found[0]).toMatchObject({ ...place, step: 1 });
  });

  test('with the values that it skips', () => {
    for (const [low, high] of [
      [0, 14],
      [1, 15],
      [0, 9],
    ] as const) {
      const cycle = high - low + 1;
      const found = countersOf(rowsOf(sender(NIBBLE, (i) => low + (i % cycle))));
      const skip = Array.from({ length: 16 }, (_, v) => v).filter((v) => v < low || v > high);
      expect(found[0], `${low} … ${high}`).toMatchObject({ ...NIBBLE, step: 1, skip });
    }
  });

  test('with its step, also downward', () => {
    for (const step of [1, 3, -1, -5]) {
      const found = countersOf(rowsOf(sender(NIBBLE, (i) => (((i * step) % 16) + 16) % 16)));
      expect(found[0], `step ${step}`).toMatchObject({ ...NIBBLE, step });
    }
  });

  test('when one frame in eight is lost, the steps over the gaps counted as fitting', () => {
    for (const skip of [0, 1]) {
      const rows = rowsOf(sender(NIBBLE, (i) => i % (16 - skip), { lost: 0.125, frames: 800 }));
      const [found] = countersOf(rows);
      expect(found).toMatchObject({ ...NIBBLE, step: 1, skip: skip ? [15] : [] });
      const [evidence] = found?.evidence ?? [];
      expect(evidence?.agree).toBe(evidence?.frames);
      expect(evidence?.text).toContain('more fit lost frames');
    }
  });

  test('when the sender restarts it twice', () => {
    const found = countersOf(rowsOf(sender(NIBBLE, (i) => (i < 90 ? i : i < 201 ? i - 90 : i - 201) % 16)));
    expect(found[0]).toMatchObject(NIBBLE);
    expect(found[0]?.evidence[0]?.text).toContain('2 do not fit');
    expect(found[0]?.probability).toBeLessThan(0.999);
  });

  test('when every value is sent three times', () => {
    const [found] = countersOf(rowsOf(sender(NIBBLE, (i) => Math.floor(i / 3) % 16)));
    expect(found).toMatchObject(NIBBLE);
    expect(found?.evidence[0]?.text).toContain('every value is sent 3 times');
  });

  test('from thirteen frames, with less confidence than from three hundred', () => {
    const [few] = countersOf(rowsOf(sender(NIBBLE, (i) => (i + 7) % 16, { frames: 13 })));
    const [many] = countersOf(rowsOf(sender(NIBBLE, (i) => (i + 7) % 16)));
    expect(few).toMatchObject(NIBBLE);
    expect(few?.probability).toBeLessThan(many?.probability as number);
  });
});

describe('the field of a counter ends where the counter ends', () => {
  const above = (fill: (i: number) => number) => (p: Uint8Array, i: number) => {
    p.fill(0x11);
    writeBits(p, 0, { start: 52, length: 4, byteOrder: 'little' }, fill(i));
    writeBits(p, 0, { start: 44, length: 4, byteOrder: 'little' }, fill(i + 77));
  };
  const dice = random(31);
  const neighbours: [string, (i: number) => number][] = [
    ['stand still', () => 9],
    ['flip seldom', (i) => (i < 140 ? 2 : 3)],
    ['are random', () => Math.floor(dice() * 16)],
    ['climb slowly', (i) => Math.floor(i / 40)],
  ];
  test.each(neighbours)('when its neighbours %s', (_, fill) => {
    const found = countersOf(rowsOf(sender(NIBBLE, (i) => i % 16, { fill: above(fill) })));
    expect(found).toHaveLength(1);
    expect(found[0]).toMatchObject(NIBBLE);
  });

  test('a byte-wide counter does not take a flag above it that changes three times', () => {
    const fill = (p: Uint8Array, i: number) => {
      p.fill(0);
      p[7] = i % 350 < 200 ? 0 : 1;
    };
    const place: Place = { start: 48, length: 8, byteOrder: 'little' };
    const found = countersOf(rowsOf(sender(place, (i) => i % 256, { fill, frames: 1000 })));
    expect(found).toHaveLength(1);
    expect(found[0]).toMatchObject(place);
  });
});

describe('no counter is found', () => {
  const none = (fill: (p: Uint8Array, i: number) => void, frames = 400) => {
    expect(countersOf(rowsOf({ id: 1, length: 8, frames, fill }))).toEqual([]);
  };

  test('in a number that only climbs', () =>
    none((p, i) => writeBits(p, 0, { start: 8, length: 16, byteOrder: 'little' }, 3000 + i)));

  test('in the low bits of a time that is longer than 16 bits', () =>
    none((p, i) => writeBits(p, 0, { start: 4, length: 32, byteOrder: 'little' }, 123_456 + 625 * i)));

  test('in a flag that toggles every frame', () =>
    none((p, i) => {
      p[2] = i % 2;
    }));

  test('in three pages sent in turn', () =>
    none((p, i) =>
      p.set(
        [
          [0, 0x15, 0x50, 0x30, 0x37, 0x35, 0x31, 0x34],
          [1, 0x36, 0x39],
          [2, 0x5a, 0x41, 0x52],
        ][i % 3] as number[],
      ),
    ));

  test('in four pages sent in turn', () =>
    none((p, i) =>
      p.set(
        [
          [0, 0x15, 0x50],
          [1, 0x36, 0x39],
          [2, 0x5a, 0x41],
          [3, 0x11, 0x40],
        ][i % 4] as number[],
      ),
    ));

  test('in four pages sent in turn of which one carries a number', () => {
    const pages = [
      [0, 0x15, 0x50],
      [1, 0x36, 0x39],
      [2, 0x5b, 0x41],
      [3, 0x10, 0x40],
    ];
    // The low bits of the second byte come round as those of the first do: neither is known to count.
    none((p, i) => {
      p.set(pages[i % 4] as number[]);
      if (i % 4 === 2) p[6] = (i * i) >> 5;
    });
  });

  test('in seven steps', () => none((p, i) => p.fill(i % 4), 8));

  test('in random payloads, over 150 seeds', () => {
    let found = 0;
    for (let seed = 1; seed <= 150; seed++) {
      const dice = random(seed);
      const mask = Uint8Array.from({ length: 8 }, () => (dice() < 0.5 ? 255 : Math.floor(dice() * 256)));
      const rows = rowsOf({
        id: 1,
        length: 8,
        frames: [10, 30, 200][seed % 3] as number,
        fill: (p) => {
          for (let b = 0; b < 8; b++) p[b] = Math.floor(dice() * 256) & (mask[b] as number);
        },
      });
      found += countersOf(rows).length;
    }
    expect(found).toBe(0);
  });
});

test('bits that are explained otherwise are left alone', () => {
  const rows = rowsOf(sender(NIBBLE, (i) => i % 16));
  const taken = new Uint8Array(64);
  taken[50] = 1;
  expect(findCounters(rows, { periodS: 0.01, taken }).some((c) => fieldBits(c).includes(50))).toBe(false);
});
