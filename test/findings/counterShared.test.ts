import { describe, expect, test } from 'vitest';
import { writeBits } from '../../src/can/bits.ts';
import { groupByMessage } from '../../src/capture/select.ts';
import { findSharedCounters } from '../../src/findings/counterShared.ts';
import { findAll } from '../../src/findings/find.ts';
import { messageRows, sessionsOf } from '../../src/findings/rows.ts';
import { captureOf, driving, random, type Sender } from './traffic.ts';

interface Place {
  start: number;
  length: number;
  byteOrder: 'little' | 'big';
}

const NIBBLE: Place = { start: 52, length: 4, byteOrder: 'little' };

/** One counter over messages of the given periods, in whole tens of milliseconds. */
function sharing(periods: number[], next: (n: number) => number, place = NIBBLE, keep = () => true) {
  const order = periods
    .flatMap((period, m) =>
      Array.from({ length: Math.floor(900 / period) }, (_, k) => ({ m, at: k * period })),
    )
    .sort((a, b) => a.at - b.at || a.m - b.m);
  const values = periods.map(() => [] as number[]);
  order.forEach(({ m }, n) => {
    values[m]?.push(next(n));
  });
  const senders = periods.map((period, m): Sender => {
    const move = driving(m + 1);
    return {
      id: 0x200 + m,
      length: 8,
      periodS: 0.01 * period,
      frames: (values[m] as number[]).length,
      fill: (p, i) => {
        move(p, i);
        writeBits(p, 0, place, values[m]?.[i] as number);
      },
    };
  });
  const capture = captureOf(senders);
  const session = sessionsOf(capture);
  const rows = groupByMessage(capture).map((message) => messageRows(capture, message, session));
  return { capture, rows: rows.filter(keep) };
}

describe('a counter that runs over several messages', () => {
  test('is found where the messages have different periods, with the others named', () => {
    const { rows } = sharing([1, 2], (n) => n % 16);
    const found = findSharedCounters(rows);
    expect([...found.keys()]).toEqual([0, 1]);
    expect(found.get(0)).toMatchObject({ ...NIBBLE, step: 1, skip: [], sharedWith: [0x201] });
    expect(found.get(1)).toMatchObject({ ...NIBBLE, sharedWith: [0x200] });
    expect(found.get(0)?.probability).toBeGreaterThan(0.95);
  });

  test('is found over three messages, with skipped values, downward, and in sixteen bits', () => {
    const kinds: [string, (n: number) => number, Place, object][] = [
      ['skips 15', (n) => n % 15, NIBBLE, { step: 1, skip: [15] }],
      ['runs down', (n) => (1600 - n) & 15, NIBBLE, { step: -1 }],
      ['eight bits', (n) => n & 255, { start: 48, length: 8, byteOrder: 'little' }, { step: 1 }],
    ];
    for (const [name, next, place, expected] of kinds) {
      const found = findSharedCounters(sharing([2, 3, 3], next, place).rows);
      expect(found.size, name).toBe(3);
      for (const counter of found.values()) expect(counter, name).toMatchObject({ ...place, ...expected });
    }
  });

  test('is believed less where the messages take turns without exception, and that is said', () => {
    const found = findSharedCounters(sharing([2, 2], (n) => n % 16).rows);
    expect(found.size).toBe(2);
    expect(found.get(0)?.probability).toBeLessThan(0.9);
    expect(found.get(0)?.evidence[0]?.text).toContain('each may also count by itself');
  });

  test('stands in the findings of each message', async () => {
    const { messages } = await findAll(sharing([1, 2], (n) => n % 16).capture);
    for (const { counter } of messages) expect(counter).toMatchObject({ ...NIBBLE, step: 1 });
    expect(messages[0]?.counter?.sharedWith).toEqual([0x201]);
  });

  test('is not found where each message has a counter of its own', () => {
    const own = [1, 2, 2].map((period, m): Sender => {
      const counter = { ...NIBBLE, value: (i: number) => (i + 3 * m) % 16 };
      return { id: 0x300 + m, length: 8, periodS: 0.01 * period, frames: 400, fill: driving(m), counter };
    });
    const capture = captureOf(own);
    const session = sessionsOf(capture);
    const rows = groupByMessage(capture).map((message) => messageRows(capture, message, session));
    expect(findSharedCounters(rows).size).toBe(0);
  });

  test('is not found in random payloads, over 60 seeds', () => {
    let found = 0;
    for (let seed = 1; seed <= 60; seed++) {
      const dice = random(seed);
      const senders = [1, 2, 3].map((id): Sender => {
        const fill = (p: Uint8Array) => {
          for (let b = 0; b < 8; b++) p[b] = Math.floor(dice() * 256);
        };
        return { id, length: 8, frames: 100, fill };
      });
      const capture = captureOf(senders);
      const session = sessionsOf(capture);
      found += findSharedCounters(
        groupByMessage(capture).map((message) => messageRows(capture, message, session)),
      ).size;
    }
    expect(found).toBe(0);
  });
});
