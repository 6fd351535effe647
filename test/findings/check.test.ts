import { describe, expect, test } from 'vitest';
import { readBits } from '../../src/can/bits.ts';
import { checkFunction } from '../../src/can/check.ts';
import { settleChecks } from '../../src/findings/check.ts';
import { searchCheck } from '../../src/findings/checkSearch.ts';
import { findCounters } from '../../src/findings/counter.ts';
import type { FoundCheck } from '../../src/findings/model.ts';
import type { MessageRows } from '../../src/findings/rows.ts';
import { checkField, driving, random, rowsOf, type Sender } from './traffic.ts';

const FOUR_BITS = { start: 48, length: 4, byteOrder: 'little' as const, value: (i: number) => i % 16 };

function settle(...messages: MessageRows[]) {
  return settleChecks(
    messages.map((rows) => {
      const counters = findCounters(rows, { periodS: 0.01, taken: new Uint8Array(8 * rows.length) });
      return searchCheck(rows, counters);
    }),
  );
}

function checkOf(sender: Sender): FoundCheck | null {
  return settle(rowsOf(sender))[0]?.check ?? null;
}

/** Frames of fresh traffic of the same sender for which the model found gives what was sent. */
function predicts(check: FoundCheck, sender: Sender, seed: number): number {
  const rows = rowsOf({ ...sender, fill: driving(seed), seed });
  const expected = checkFunction(check);
  let right = 0;
  for (let i = 0; i < rows.count; i++) {
    const at = i * rows.length;
    const value = sender.counter ? readBits(rows.payload, at, sender.counter) : undefined;
    if (expected(rows.id, rows.payload, at, rows.length, value) === readBits(rows.payload, at, check))
      right++;
  }
  return right / rows.count;
}

describe('CRC-8', () => {
  test('every polynomial is read off 200 payloads, in one bit order or the other', () => {
    const wrong: string[] = [];
    // Without its last term a generator is a narrower one; 1 alone is the exclusive-or.
    for (let poly = 3; poly < 256; poly += 2) {
      const k = poly >> 1;
      const dice = random(k);
      const reflected = k % 2 === 0;
      const check = checkOf({
        id: 0x1a0,
        length: 8,
        frames: 200,
        fill: driving(k),
        counter: FOUR_BITS,
        check: checkField({
          poly,
          reflected,
          init: Math.floor(dice() * 256),
          xorout: Math.floor(dice() * 256),
        }),
      });
      const right = check?.algorithm === 'crc' && check.poly === poly && check.reflected === reflected;
      if (!right || check.covers.join() !== '0,1,2,3,4,5,6') wrong.push(poly.toString(16));
    }
    expect(wrong).toEqual([]);
  });

  test('what is found predicts the check of payloads that were never seen, whatever is folded in', () => {
    let ambiguous = 0;
    for (let seed = 1; seed <= 40; seed++) {
      const dice = random(seed);
      const byte = Math.floor(dice() * 8);
      const others = [0, 1, 2, 3, 4, 5, 6, 7].filter((b) => b !== byte || dice() < 0.2);
      const field = checkField({
        start: 8 * byte,
        poly: 1 + 2 * Math.floor(1 + dice() * 126),
        reflected: dice() < 0.5,
        init: Math.floor(dice() * 256),
        xorout: Math.floor(dice() * 256),
        covers: dice() < 0.2 && !others.includes(byte) ? others.reverse() : others,
        prefix: dice() < 0.5 ? [Math.floor(dice() * 256), 0x21] : [],
        suffix: dice() < 0.3 ? [Math.floor(dice() * 256)] : [],
        idBytes: dice() < 0.5 ? [0, 1] : [],
      });
      const counter = { ...FOUR_BITS, start: byte === 6 ? 40 : 48 };
      const sender = { id: 0x2b3, length: 8, frames: 250, fill: driving(seed), counter, check: field };
      const [result] = settle(rowsOf(sender));
      const check = result?.check ?? null;
      if (check === null) {
        ambiguous++;
        expect(result?.open.join(' '), `seed ${seed}`).toContain('more than one polynomial explains it');
        continue;
      }
      expect(check.start, `seed ${seed}`).toBe(8 * byte);
      expect(predicts(check, sender, seed + 1000), `seed ${seed}`).toBe(1);
    }
    expect(ambiguous).toBeLessThanOrEqual(1);
  });

  test('a check whose bytes enter in an order that is not tried is said to follow from the rest, unexplained', () => {
    const field = checkField({ poly: 0x2f, covers: [3, 1, 6, 0, 5, 2, 4] });
    const dice = random(9);
    const fill = (p: Uint8Array) => {
      for (let b = 0; b < 8; b++) p[b] = Math.floor(dice() * 256);
    };
    const [result] = settle(rowsOf({ id: 1, length: 8, frames: 300, fill, check: field }));
    expect(result?.check).toBeNull();
    expect(result?.open).toHaveLength(1);
    expect(result?.open[0]).toMatch(/follows from the other bytes in 300 different payloads as a check does/);
  });

  test('the published name is given where start value and final constant have one', () => {
    const field = checkField({ poly: 0x2f, init: 0xff, xorout: 0xff });
    const check = checkOf({
      id: 1,
      length: 8,
      frames: 200,
      fill: driving(5),
      counter: FOUR_BITS,
      check: field,
    });
    expect(check).toMatchObject({ standard: 'CRC-8/AUTOSAR', init: 0xff, xorout: 0xff, perCounter: null });
  });

  test('without a published set the start value is 0 and the constant says that it is alone', () => {
    const field = checkField({ poly: 0x2f, init: 0x5a, xorout: 0x11 });
    const check = checkOf({
      id: 1,
      length: 8,
      frames: 200,
      fill: driving(5),
      counter: FOUR_BITS,
      check: field,
    });
    expect(check).toMatchObject({ standard: '', init: 0, idBytes: [] });
    expect(check?.evidence.map((e) => e.text).join(' ')).toContain('cannot be told apart');
  });

  test('bytes that the check does not cover are found out when they move', () => {
    const field = checkField({ start: 0, covers: [1, 2, 3, 4] });
    const dice = random(11);
    const fill = (p: Uint8Array) => {
      for (let b = 1; b < 8; b++) p[b] = Math.floor(dice() * 256);
    };
    const check = checkOf({ id: 1, length: 8, frames: 200, fill, check: field });
    expect(check).toMatchObject({ start: 0, poly: 0x1d, covers: [1, 2, 3, 4] });
  });

  test('a damaged frame in a hundred does not hide a check, and is counted', () => {
    const field = checkField({ poly: 0x2f, init: 0xff, xorout: 0xff });
    const rows = rowsOf({
      id: 1,
      length: 8,
      frames: 800,
      fill: driving(5),
      counter: FOUR_BITS,
      check: field,
    });
    const damaged = [50, 130, 300, 420, 590, 610, 700, 790];
    for (const i of damaged) rows.payload[8 * i + 1] = (rows.payload[8 * i + 1] as number) ^ 0x10;
    const [result] = settle(rows);
    expect(result?.check).toMatchObject({ poly: 0x2f, standard: 'CRC-8/AUTOSAR' });
    expect(result?.check?.evidence[0]).toMatchObject({ frames: 800, agree: 792 });
    expect(result?.check?.probability).toBeLessThan(0.995);
  });

  test('a CAN FD payload of 32 bytes is solved like a short one', () => {
    const covers = Array.from({ length: 31 }, (_, b) => b);
    const field = checkField({ start: 248, poly: 0x9b, covers });
    const check = checkOf({
      id: 1,
      length: 32,
      frames: 150,
      fill: driving(5),
      counter: FOUR_BITS,
      check: field,
    });
    expect(check).toMatchObject({ start: 248, poly: 0x9b, covers });
  });
});

describe('messages of one bus together', () => {
  const shared = { poly: 0x4d, init: 0x3c, xorout: 0x77 };

  test('identifier bytes are named when several messages agree on one start value only with them', () => {
    const ids = [0x101, 0x1a7, 0x233, 0x45c];
    const rows = ids.map((id, k) =>
      rowsOf({
        id,
        length: 8,
        frames: 200,
        fill: driving(k + 1),
        counter: FOUR_BITS,
        check: checkField({ ...shared, idBytes: [0, 1] }),
      }),
    );
    for (const { check } of settle(...rows)) expect(check).toMatchObject({ poly: 0x4d, idBytes: [0, 1] });
  });

  test('one message alone is not enough to name identifier bytes', () => {
    const field = checkField({ ...shared, idBytes: [0, 1] });
    const check = checkOf({
      id: 0x233,
      length: 8,
      frames: 200,
      fill: driving(3),
      counter: FOUR_BITS,
      check: field,
    });
    expect(check).toMatchObject({ poly: 0x4d, idBytes: [] });
  });

  test('a published set with identifier bytes is named from the second message on', () => {
    const rows = [0x233, 0x45c].map((id, k) =>
      rowsOf({
        id,
        length: 8,
        frames: 200,
        fill: driving(k + 1),
        check: checkField({ poly: 0x2f, init: 0xff, xorout: 0xff, idBytes: [0] }),
      }),
    );
    const [first, second] = rows as [MessageRows, MessageRows];
    expect(settle(first)[0]?.check).toMatchObject({ poly: 0x2f, idBytes: [], standard: '' });
    for (const { check } of settle(first, second)) {
      expect(check).toMatchObject({ idBytes: [0], init: 0xff, xorout: 0xff, standard: 'CRC-8/AUTOSAR' });
    }
  });

  test('start value and final constant come apart when messages have different lengths', () => {
    const rows = [4, 5, 6, 7, 8].map((length, k) =>
      rowsOf({
        id: 0x100 + k,
        length,
        frames: 200,
        fill: driving(k + 1),
        check: checkField({
          ...shared,
          start: 8 * (length - 1),
          covers: Array.from({ length: length - 1 }, (_, b) => b),
        }),
      }),
    );
    for (const { check } of settle(...rows)) expect(check).toMatchObject(shared);
  });

  const onlyCounting = (id: number, byte: number, counterBit: number) =>
    rowsOf({
      id,
      length: 8,
      frames: 100,
      fill: (p) => p.fill(0x20),
      counter: { ...FOUR_BITS, start: counterBit },
      check: checkField({
        start: 8 * byte,
        init: 0xff,
        xorout: 0xff,
        covers: [0, 1, 2, 3, 4, 5, 6, 7].filter((b) => b !== byte),
      }),
    });
  const wholesome = rowsOf({
    id: 0x300,
    length: 8,
    frames: 200,
    fill: driving(4),
    counter: FOUR_BITS,
    check: checkField({ init: 0xff, xorout: 0xff }),
  });

  test('where only the counter moves, the check is taken from a message that has it in the same place', () => {
    const [, alone] = settle(wholesome, onlyCounting(0x301, 7, 48));
    expect(alone?.check).toMatchObject({ poly: 0x1d, init: 0xff, xorout: 0xff, start: 56 });
  });

  test('where only the counter moves and no other message has its check there, it stays open', () => {
    const [, alone] = settle(wholesome, onlyCounting(0x302, 3, 16));
    expect(alone?.check).toBeNull();
    expect(alone?.open.join(' ')).toMatch(
      /Byte 3 agrees with a CRC-8 of polynomial 0x1D in 100 of 100 frames/,
    );
  });

  test('where only the counter moves and there is no other message, it stays open', () => {
    const [alone] = settle(onlyCounting(0x301, 7, 48));
    expect(alone?.check).toBeNull();
    expect(alone?.open.join(' ')).toContain('record while another signal of this message');
  });
});

describe('constants that change with the counter', () => {
  test('one constant per counter value is found, for CRC, exclusive-or and sum', () => {
    for (const algorithm of ['crc', 'xor', 'sum'] as const) {
      for (let seed = 1; seed <= 6; seed++) {
        const dice = random(seed);
        const perCounter = Array.from({ length: 16 }, () => Math.floor(dice() * 256));
        const field = checkField({ algorithm, perCounter, poly: algorithm === 'crc' ? 0x2f : 0 });
        const sender = {
          id: 1,
          length: 8,
          frames: 600,
          fill: driving(seed),
          counter: FOUR_BITS,
          check: field,
        };
        const check = checkOf(sender);
        expect(check?.algorithm, `${algorithm}, seed ${seed}`).toBe(algorithm);
        expect(check?.perCounter, `${algorithm}, seed ${seed}`).toHaveLength(16);
        expect(check && predicts(check, sender, seed + 500), `${algorithm}, seed ${seed}`).toBe(1);
      }
    }
  });

  test('counter values that were never seen leave it open', () => {
    const dice = random(3);
    const perCounter = Array.from({ length: 16 }, () => Math.floor(dice() * 256));
    const field = checkField({ perCounter, poly: 0x2f });
    const fill = driving(3);
    const rows = rowsOf({ id: 1, length: 8, frames: 900, fill, counter: FOUR_BITS, check: field });
    const counters = findCounters(rows, { periodS: 0.01, taken: new Uint8Array(64) });
    // The same frames without those of counter value 9.
    const kept = Array.from({ length: rows.count }, (_, i) => i).filter(
      (i) => ((rows.payload[8 * i + 6] as number) & 15) !== 9,
    );
    const payload = new Uint8Array(8 * kept.length);
    for (const [k, i] of kept.entries()) payload.set(rows.payload.subarray(8 * i, 8 * i + 8), 8 * k);
    const partial = { ...rows, payload, count: kept.length };
    const [result] = settleChecks([searchCheck(partial, counters)]);
    expect(result?.check).toBeNull();
    expect(result?.open.join(' ')).toContain('not every counter value was seen');
  });
});

describe('sums and exclusive-or', () => {
  const kinds = [
    checkField({ algorithm: 'xor', xorout: 0x5a, poly: 0 }),
    checkField({ algorithm: 'sum', init: 0x21, poly: 0 }),
    checkField({ algorithm: 'sumComplement', init: 0xff, poly: 0 }),
    checkField({ algorithm: 'nibbleSum', init: 3, poly: 0 }),
    checkField({ algorithm: 'nibbleSum', init: 3, xorout: 0xff, poly: 0 }),
    checkField({
      algorithm: 'nibbleSum',
      start: 52,
      length: 4,
      width: 4,
      init: 5,
      covers: [0, 1, 2, 3, 4, 5, 6, 7],
      poly: 0,
    }),
    checkField({ algorithm: 'sum', start: 0, covers: [1, 2, 3, 4, 5, 6, 7], poly: 0 }),
    checkField({ algorithm: 'xor', start: 24, covers: [0, 1, 2, 4, 5, 6, 7], poly: 0 }),
  ];

  test('each kind is found at any place and predicts payloads that were never seen', () => {
    for (const [k, field] of kinds.entries()) {
      const fill = (seed: number) => {
        const move = driving(seed);
        return (p: Uint8Array, i: number) => {
          move(p, i);
          if (field.start === 0) p[4] = p[0] as number;
        };
      };
      const sender = { id: 5, length: 8, frames: 300, fill: fill(k + 1), counter: FOUR_BITS, check: field };
      const check = checkOf(sender);
      expect(check, `kind ${k}`).toMatchObject({
        algorithm: field.algorithm,
        start: field.start,
        length: field.length,
      });
      expect(check && predicts(check, { ...sender, fill: fill(99) }, 99), `kind ${k}`).toBe(1);
    }
  });

  test('a signal sent twice is not a check, plain, inverted or beside another such pair', () => {
    const dice = random(8);
    let a = 100;
    let b = 60;
    const fill = (p: Uint8Array) => {
      a = (a + Math.floor(dice() * 21) - 10) & 255;
      b = (b + Math.floor(dice() * 9) - 4) & 255;
      p.set([a, a, b, b, 255 - b, a + 7, 0, 0]);
    };
    const [result] = settle(rowsOf({ id: 5, length: 8, frames: 400, fill }));
    expect(result?.check).toBeNull();
    // Here the copy with an offset is also the sum of three bytes, two of which add up to 255.
    const sparse = (p: Uint8Array, i: number) => {
      fill(p);
      p.set([p[0] as number, 0, 0, i & 7, p[2] as number, 255 - (p[2] as number), (p[0] as number) + 7, 0]);
    };
    expect(settle(rowsOf({ id: 5, length: 8, frames: 400, fill: sparse }))[0]?.check).toBeNull();
  });
});

test('payloads without a check give none, over 300 kinds of random payload', () => {
  const seeds = 300;
  let found = 0;
  for (let seed = 1; seed <= seeds; seed++) {
    const dice = random(seed);
    const length = 1 + Math.floor(dice() * 8);
    const frames = [4, 12, 40, 160][seed % 4] as number;
    const still = dice() * 0.8;
    const masks = Uint8Array.from({ length }, () => (dice() < 0.5 ? 0xff : Math.floor(dice() * 256)));
    const fill = (p: Uint8Array) => {
      for (let b = 0; b < length; b++)
        p[b] = dice() < still ? 0 : Math.floor(dice() * 256) & (masks[b] as number);
    };
    if (settle(rowsOf({ id: 0x100, length, frames, fill }))[0]?.check) found++;
  }
  expect(found).toBe(0);
});
