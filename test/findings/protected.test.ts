/** Everything that the generator of protected messages draws is recovered blind, or said to be too little to tell. */
import { describe, expect, test } from 'vitest';
import { fieldBits, readBits, writeBits } from '../../src/can/bits.ts';
import { writeCheck } from '../../src/can/check.ts';
import { camelKeys, snakeKeys } from '../../src/dictionary/case.ts';
import { nextCounter } from '../../src/dictionary/counter.ts';
import type { Check } from '../../src/dictionary/model.ts';
import { checkSchema } from '../../src/dictionary/schema.ts';
import { settleChecks } from '../../src/findings/check.ts';
import { searchCheck } from '../../src/findings/checkSearch.ts';
import { findCounters } from '../../src/findings/counter.ts';
import type { FoundCheck } from '../../src/findings/model.ts';
import { type Drawn, drawn, foretold, movingBytes, samePlace } from './protected.ts';
import { random, rowsOf, type Sender } from './traffic.ts';

const SEEDS = 15;
/** Where a signal is as hard to foretell as the check, both solve the equation, and neither is believed. */
const UNSURE = 0.15;

function settled(sender: Sender) {
  const rows = rowsOf(sender);
  const counters = findCounters(rows, { periodS: 0.01, taken: new Uint8Array(8 * rows.length) });
  const [result] = settleChecks([searchCheck(rows, counters)]);
  return { rows, check: result?.check ?? null, open: result?.open ?? [] };
}

/** Per outcome the messages that had it, over seeds. */
function outcomes(kind: Omit<Drawn, 'seed'>) {
  const out = { right: [] as string[], unsure: [] as string[], open: [] as string[], silent: [] as string[] };
  const wrong: string[] = [];
  for (let seed = 1; seed <= SEEDS; seed++) {
    const { sender, words } = drawn({ ...kind, seed });
    const { check, open } = settled(sender);
    if (!check) (open.length > 0 ? out.open : out.silent).push(words);
    else if (samePlace(check, sender.check) && foretold(check, sender, seed + 5000) === 1)
      out.right.push(words);
    else (check.probability < 0.9 ? out.unsure : wrong).push(words);
  }
  return { ...out, wrong };
}

describe('a check drawn at random in a message that varies enough', () => {
  const kinds: [string, Omit<Drawn, 'seed'>][] = [
    ['CRC of 4 to 32 bits anywhere', { kind: 'crc', frames: 200 }],
    ['CRC of 4 bits anywhere', { kind: 'crc', frames: 200, width: 4 }],
    ['CRC of 8 bits in a byte', { kind: 'crc', frames: 100, width: 8, place: 'byte' }],
    ['CRC of 12 bits anywhere', { kind: 'crc', frames: 100, width: 12 }],
    ['CRC with a constant per counter value', { kind: 'crc', frames: 500, perCounter: 'yes' }],
    ['exclusive-or', { kind: 'xor', frames: 200 }],
    ['sum', { kind: 'sum', frames: 200 }],
    ['sum with a constant per counter value', { kind: 'sum', frames: 500, perCounter: 'yes' }],
    ['negative sum', { kind: 'sumComplement', frames: 200 }],
    ['sum of half bytes', { kind: 'nibbleSum', frames: 200 }],
  ];
  test.each(kinds)('%s is recovered with its place, and foretells payloads never seen', (_, kind) => {
    const { right, unsure, wrong, open, silent } = outcomes(kind);
    expect({ wrong, open, silent }).toEqual({ wrong: [], open: [], silent: [] });
    expect(unsure.length).toBeLessThanOrEqual(UNSURE * SEEDS);
    expect(right.length + unsure.length).toBe(SEEDS);
  });
});

describe('a check drawn at random in few payloads', () => {
  const kinds: Omit<Drawn, 'seed'>[] = [
    { kind: 'crc', frames: 12 },
    { kind: 'crc', frames: 8 },
    { kind: 'crc', frames: 24 },
    { kind: 'xor', frames: 10 },
    { kind: 'sum', frames: 14 },
    { kind: 'nibbleSum', frames: 14 },
  ];
  test.each(kinds)('is recovered or said to be open, never wrong and sure: %o', (kind) => {
    const { wrong, silent } = outcomes(kind);
    expect({ wrong, silent }).toEqual({ wrong: [], silent: [] });
  });

  test('is open or unsure in every message of eight payloads with a field of no whole byte', () => {
    const { open, right, unsure } = outcomes({ kind: 'crc', frames: 8, width: 11 });
    expect(right).toEqual([]);
    expect(open.length + unsure.length).toBe(SEEDS);
  });
});

test('what is found goes through the dictionary and gives the recorded payloads again, frame by frame', () => {
  for (const kind of ['crc', 'xor', 'sum', 'sumComplement', 'nibbleSum'] as const) {
    for (let seed = 101; seed <= 106; seed++) {
      const perCounter = seed % 3 === 0 ? ('yes' as const) : undefined;
      const { sender, words } = drawn({ kind, seed, frames: 500, ...(perCounter ? { perCounter } : {}) });
      const { rows, check } = settled(sender);
      expect(check, words).not.toBeNull();
      const stored = throughDictionary(check as FoundCheck);
      for (let i = 0; i < rows.count; i++) {
        const recorded = rows.payload.subarray(8 * i, 8 * i + 8);
        const again = recorded.slice();
        writeBits(again, 0, stored, 0);
        const count = sender.counter && readBits(again, 0, sender.counter);
        writeCheck(stored, rows.id, again, 0, 8, count);
        expect(again.join(), words).toBe(recorded.join());
      }
    }
  }
});

function throughDictionary({ probability, standard, evidence, ...field }: FoundCheck): Check {
  expect([probability, standard, evidence]).toHaveLength(3);
  return camelKeys(checkSchema.parse(snakeKeys(field))) as Check;
}

test('a counter of any width, place, order and step, with skipped values and lost frames, is recovered', () => {
  const wrong: string[] = [];
  let tried = 0;
  for (let seed = 1; seed <= 70; seed++) {
    const dice = random(seed * 31);
    const below = (n: number) => Math.floor(dice() * n);
    const length = 3 + below(10);
    const byteOrder = below(2) === 0 ? ('little' as const) : ('big' as const);
    const start = 44 + below(8);
    const steps = [1, 1, 1, -1, 3, -3, 5].filter((step) => Math.abs(step) < 2 ** (length - 1));
    const step = steps[below(steps.length)] as number;
    const most = 2 ** length - 1;
    const skip = length > 3 ? ([[], [], [most], [0], [1 + below(most - 1)]][below(5)] as number[]) : [];
    const rule = { length, step, skip };
    let value = skip.includes(0) ? most : 0;
    // Values that a step jumps over must all be met at some time: otherwise it is another counter.
    const met = new Set<number>();
    for (let v = value; !met.has(v); v = nextCounter(rule, v)) met.add(v);
    if (met.size !== 2 ** length - skip.length) continue;
    const counter = {
      start: byteOrder === 'big' ? start - 2 : start,
      length,
      byteOrder,
      value: () => {
        value = nextCounter(rule, value);
        return value;
      },
    };
    if (fieldBits(counter).some((bit) => bit >= 64)) continue;
    const frames = Math.max(400, 3.2 * 2 ** length);
    const sender = { id: 0x99, length: 8, frames, fill: movingBytes(seed), counter, lost: below(2) * 0.03 };
    const [found] = findCounters(rowsOf({ ...sender, seed }), { periodS: 0.01, taken: new Uint8Array(64) });
    const same =
      found && samePlace(found, counter) && found.step === step && found.skip.join() === skip.join();
    tried++;
    if (!same) {
      const words = found && `${fieldBits(found).join(' ')} step ${found.step} skip ${found.skip.join()}`;
      wrong.push(`seed ${seed}: ${fieldBits(counter).join(' ')} step ${step} skip ${skip.join()} → ${words}`);
    }
  }
  expect(wrong).toEqual([]);
  expect(tried).toBeGreaterThan(45);
});
