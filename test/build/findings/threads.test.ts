import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { describe, expect, test } from 'vitest';
import { concatenate } from '../../../src/capture/select.ts';
import type { Capture } from '../../../src/capture/store.ts';
import { findAll } from '../../../src/findings/find.ts';
import { captureOf, checkField, driving, type Sender } from '../../findings/traffic.ts';

/** Threads run compiled code, so this is tried on what `npm test` has just compiled. */
const { findInThreads } = (await import(
  pathToFileURL(join(process.cwd(), 'dist/src/build/findings/threads.js')).href
)) as typeof import('../../../src/build/findings/threads.ts');

/** Two buses; counters, checks that need the other messages of the bus, a selector, payloads of 64 bytes. */
function senders(): Sender[] {
  const counter = { start: 48, length: 4, byteOrder: 'little' as const, value: (i: number) => i % 15 };
  const check = checkField({ poly: 0x2f, init: 0xff, xorout: 0xff });
  const wide = driving(9);
  const pages = [driving(21), driving(22)];
  return [
    { id: 0x0c4, length: 8, frames: 300, fill: driving(2), counter, check },
    { id: 0x0c5, length: 8, frames: 300, fill: driving(3), seed: 3, counter, check },
    { id: 0x1a2, length: 4, frames: 150, periodS: 0.02, fill: driving(6), seed: 2 },
    { id: 0x300, length: 64, frames: 60, periodS: 0.05, fill: (p, i) => wide(p.subarray(20, 28), i) },
    {
      id: 0x210,
      bus: 1,
      length: 8,
      frames: 200,
      fill: (p, i) => {
        pages[i % 2]?.(p.subarray(1), i);
        p[0] = i % 2;
      },
    },
    { id: 0x211, bus: 1, length: 2, frames: 4, fill: (p) => p.fill(7) },
  ];
}

describe('findings in worker threads', () => {
  const capture = captureOf(senders());
  const held: Capture = concatenate([capture, captureOf(senders().slice(0, 3))], 40);

  test.each([1, 2])(
    'are the same in %i threads as in none, over a break of the recording too',
    async (threads) => {
      expect(await findInThreads(held, { threads })).toEqual(await findAll(held));
    },
  );

  test('are of the buses that were asked for only, and of an empty capture empty', async () => {
    const { messages } = await findInThreads(capture, { threads: 2, buses: [1] });
    expect(messages.map((m) => m.id)).toEqual([0x210, 0x211]);
    const none = await findInThreads(captureOf([]), { threads: 2 });
    expect(none).toMatchObject({ frames: 0, messages: [] });
  });

  test('report rising progress up to 1', async () => {
    const shares: number[] = [];
    await findInThreads(capture, { threads: 2, onProgress: (share) => shares.push(share) });
    expect(shares.at(-1)).toBe(1);
    expect(shares).toEqual([...shares].sort((a, b) => a - b));
  });

  test('stop with the reason of the signal in the middle of a message', async () => {
    const control = new AbortController();
    const working = findInThreads(capture, { threads: 2, signal: control.signal });
    setTimeout(() => control.abort(new Error('the person went away')), 60);
    await expect(working).rejects.toThrow('the person went away');
    await expect(findInThreads(capture, { signal: control.signal })).rejects.toThrow('the person went away');
  });
});
