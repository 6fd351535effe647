import { describe, expect, test } from 'vitest';
import { type BitField, fieldBits, writeBits } from '../../src/can/bits.ts';
import { FLAG } from '../../src/can/frame.ts';
import { findAll } from '../../src/findings/find.ts';
import type { FoundMessage } from '../../src/findings/model.ts';
import { findMultiplexor } from '../../src/findings/multiplexor.ts';
import { captureOf, random, rowsOf, type Sender } from './traffic.ts';

const le = (start: number, length: number): BitField => ({ start, length, byteOrder: 'little' });
const be = (start: number, length: number): BitField => ({ start, length, byteOrder: 'big' });

interface Page {
  value: number;
  fields: { field: BitField; move: (i: number) => number }[];
}

/** A walk between 0 and `top` that goes on by up to `step`. */
function walk(seed: number, top: number, step: number): (i: number) => number {
  const dice = random(seed);
  let x = Math.floor(dice() * top);
  return (i) => {
    // Once through the whole range, so that every bit moves.
    if (i % 97 === 0) x = i % 2 === 0 ? 0 : top;
    x = Math.max(0, Math.min(top, x + Math.round((dice() - 0.5) * 2 * step)));
    return x;
  };
}

/** Layouts for the values, with two numbers each that nothing else has. */
function pagesOf(values: readonly number[], free: (field: number) => BitField): Page[] {
  return values.map((value, k) => ({
    value,
    fields: [
      { field: free(0), move: walk(10 * k + 1, 2 ** free(0).length - 1, 3 + 5 * k) },
      { field: free(1), move: walk(10 * k + 2, 2 ** free(1).length - 1, 2 + 3 * k) },
    ],
  }));
}

function multiplexed(
  selector: BitField,
  pages: readonly Page[],
  next: (i: number) => number,
  frames = 600,
): Sender {
  return {
    id: 0x2c1,
    length: 8,
    frames,
    fill: (payload, i) => {
      const page = pages[next(i)] as Page;
      writeBits(payload, 0, selector, page.value);
      for (const { field, move } of page.fields) writeBits(payload, 0, field, move(i));
    },
  };
}

const optionsOf = (length = 8) => ({ taken: new Uint8Array(8 * length), counter: null });
const sorted = (field: BitField) =>
  fieldBits(field)
    .sort((a, b) => a - b)
    .join();

describe('a selector is found with its exact bits', () => {
  test.each([
    ['in the first byte', le(0, 3), (f: number) => le(8 + 16 * f, 14)],
    ['in the upper half of the fourth byte', le(28, 3), (f: number) => le(32 * f + 3, 13)],
    ['in the last byte', le(61, 3), (f: number) => be(7 + 24 * f, 15)],
    ['across a byte edge, big-endian', be(16, 3), (f: number) => le(34 * f, 13)],
  ])('%s', (_, selector, free) => {
    const pages = pagesOf([0, 1, 2, 3, 4, 5, 6, 7], free);
    const rows = rowsOf(multiplexed(selector, pages, (i) => i % 8));
    const found = findMultiplexor(rows, optionsOf());
    expect(found && sorted(found.field)).toBe(sorted(selector));
    expect(found?.values).toEqual([0, 1, 2, 3, 4, 5, 6, 7]);
  });

  test('when layouts are sent twice each, and when some frames are lost', () => {
    const pages = pagesOf([0, 1, 2, 3, 4], (f) => le(16 + 24 * f, 12));
    for (const next of [(i: number) => (i >> 1) % 5, (i: number) => (i + (i > 300 ? 1 : 0)) % 5]) {
      const found = findMultiplexor(rowsOf(multiplexed(le(4, 3), pages, next)), optionsOf());
      expect(found && sorted(found.field)).toBe(sorted(le(4, 3)));
    }
  });

  test('when the layouts come in no order', () => {
    const dice = random(8);
    const pages = pagesOf([0, 1, 2, 3, 4], (f) => le(8 + 28 * f, 14));
    const found = findMultiplexor(
      rowsOf(multiplexed(le(0, 3), pages, () => Math.floor(dice() * 5), 1500)),
      optionsOf(),
    );
    expect(found && sorted(found.field)).toBe(sorted(le(0, 3)));
  });
});

describe('no selector is found', () => {
  const numbers = (seed: number): Sender => {
    const moves = [walk(seed, 4095, 12), walk(seed + 1, 255, 2), walk(seed + 2, 65535, 90)];
    const dice = random(seed + 3);
    return {
      id: 0x100,
      length: 8,
      frames: 800,
      fill: (payload, i) => {
        writeBits(payload, 0, le(0, 12), moves[0]?.(i) as number);
        writeBits(payload, 0, le(12, 8), moves[1]?.(i) as number);
        writeBits(payload, 0, be(31, 16), moves[2]?.(i) as number);
        writeBits(payload, 0, le(48, 4), i % 16);
        writeBits(payload, 0, le(56, 2), Math.floor(dice() * 4));
      },
    };
  };

  test('among numbers, a counter and noise, over 12 seeds', () => {
    for (let seed = 1; seed <= 12; seed++)
      expect(findMultiplexor(rowsOf(numbers(seed)), optionsOf()), `seed ${seed}`).toBeNull();
  });

  test('where one number is a copy of another', () => {
    const move = walk(5, 4095, 40);
    const copy = {
      ...numbers(1),
      fill: (payload: Uint8Array, i: number) => {
        const x = move(i);
        writeBits(payload, 0, le(0, 12), x);
        writeBits(payload, 0, be(39, 12), 4095 - x);
      },
    };
    expect(findMultiplexor(rowsOf(copy), optionsOf())).toBeNull();
  });

  test('in pieces of the J1939 transport, which are no layouts', () => {
    const pages = pagesOf([1, 2, 3, 4], (f) => le(8 + 28 * f, 14));
    const sender = multiplexed(le(0, 3), pages, (i) => i % 4);
    const rows = rowsOf({ ...sender, id: 0x1ceb_ff00, extended: true });
    expect(FLAG.extended).toBeGreaterThan(0);
    expect(findMultiplexor(rows, optionsOf())).toBeNull();
    expect(
      findMultiplexor(rowsOf({ ...sender, id: 0x18fe_0100, extended: true }), optionsOf()),
    ).not.toBeNull();
  });

  test('in too few frames', () => {
    const pages = pagesOf([0, 1, 2, 3], (f) => le(8 + 28 * f, 14));
    expect(findMultiplexor(rowsOf(multiplexed(le(0, 2), pages, (i) => i % 4, 40)), optionsOf())).toBeNull();
  });
});

describe('findings of a multiplexed message', () => {
  const only = async (sender: Sender) => (await findAll(captureOf([sender]))).messages[0] as FoundMessage;

  test('hold the selector, the layout of each value, and what is the same in all of them once', async () => {
    const speed = walk(77, 1023, 4);
    const pages = pagesOf([0, 1, 2], (f) => be(23 + 16 * f, 14)).map((page, k) => ({
      value: page.value,
      fields: k === 1 ? page.fields.slice(0, 1) : page.fields,
    }));
    const sender = multiplexed(le(4, 2), pages, (i) => i % 3, 1200);
    const message = await only({
      ...sender,
      fill: (payload, i) => {
        sender.fill(payload, i);
        writeBits(payload, 0, le(52, 10), speed(i));
      },
    });
    expect(message.selector).toMatchObject(le(4, 2));
    expect(message.counter).toBeNull();
    const places = message.signals
      .filter(({ kind }) => kind !== 'constant')
      .map((s) => `${s.selectorValue} ${s.kind} ${s.start} ${s.length} ${s.byteOrder}`)
      .sort();
    expect(places).toEqual([
      '0 number 23 14 big',
      '0 number 39 14 big',
      '1 number 23 14 big',
      '2 number 23 14 big',
      '2 number 39 14 big',
      'null number 52 10 little',
    ]);
  });

  test('say which layout came too seldom to be told', async () => {
    const pages = pagesOf([0, 1, 2, 3], (f) => le(8 + 28 * f, 14));
    const sender = multiplexed(le(0, 2), pages, (i) => (i === 200 || i === 500 ? 3 : i % 3), 900);
    const message = await only(sender);
    expect(message.selector).toMatchObject(le(0, 2));
    expect(message.signals.filter((s) => s.selectorValue === 3)).toEqual([]);
    expect(message.open.join(' ')).toContain(
      'Selector value 3 came in 2 frames only: not enough to tell its layout',
    );
  });
});
