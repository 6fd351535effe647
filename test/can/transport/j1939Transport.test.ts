import { describe, expect, test } from 'vitest';
import { J1939Receiver } from '../../../src/can/transport/j1939Transport.ts';
import { Collector, hex, rising } from './collect.ts';

/** Data messages of `bytes`, numbered from 1 in each block. */
function packets(bytes: Uint8Array, block = 255): Uint8Array[] {
  return Array.from({ length: Math.ceil(bytes.length / 7) }, (_, k) => {
    const part = new Uint8Array(8).fill(0xff);
    part[0] = (k % block) + 1;
    part.set(bytes.subarray(7 * k, 7 * k + 7), 1);
    return part;
  });
}

function little(n: number, count: number): number[] {
  return Array.from({ length: count }, (_, k) => Math.floor(n / 256 ** k) & 255);
}

function open(form: 'ordinary' | 'extended' = 'ordinary') {
  const kept = new Collector();
  const receiver = new J1939Receiver(kept, form);
  let frame = 0;
  let t = 0;
  const step = (part: 'control' | 'answer' | 'data', bytes: Uint8Array | number[], waitS = 0.05) => {
    t += waitS;
    receiver[part](frame++, t, Uint8Array.from(bytes), 0, bytes.length);
  };
  return { kept, receiver, step };
}

const toAll = (size: number) => [32, ...little(size, 2), Math.ceil(size / 7), 255, ...little(65226, 3)];
const request = (size: number) => [16, ...little(size, 2), Math.ceil(size / 7), 255, ...little(59392, 3)];
const clear = (count: number, next: number) => [17, count, next, 255, 255, ...little(59392, 3)];

describe('J1939 transfers', () => {
  test('to all: announced, then sent', () => {
    const { kept, receiver, step } = open();
    step('control', toAll(20));
    for (const p of packets(rising(20))) step('data', p);
    expect(kept.faults).toEqual([]);
    expect(kept.transfers).toEqual([{ first: 0, last: 3, frames: 4, bytes: [...rising(20)] }]);
    expect([receiver.kind, receiver.group]).toEqual(['broadcast', 65226]);
  });

  test('to one unit, in blocks that it clears, and one block that it asks for again', () => {
    const { kept, receiver, step } = open();
    const parts = packets(rising(40));
    step('control', request(40));
    step('answer', clear(3, 1));
    for (const p of parts.slice(0, 3)) step('data', p);
    step('answer', clear(0, 4));
    step('answer', clear(3, 2), 1);
    for (const p of parts.slice(1, 4)) step('data', p);
    step('answer', clear(2, 5));
    for (const p of parts.slice(4)) step('data', p);
    expect(kept.faults).toEqual([]);
    expect(kept.transfers[0]?.bytes).toEqual([...rising(40)]);
    expect(receiver.kind).toBe('toUnit');
  });

  test('extended, over more than 255 packets', () => {
    const bytes = Uint8Array.from({ length: 2000 }, (_, i) => (i * 11) & 255);
    const { kept, receiver, step } = open('extended');
    step('control', [20, ...little(2000, 4), ...little(0x0dead, 3)]);
    const parts = packets(bytes, 100);
    for (let k = 0; k < parts.length; k += 100) {
      step('answer', [21, 100, ...little(k + 1, 3), ...little(0x0dead, 3)]);
      step('control', [22, 100, ...little(k, 3), ...little(0x0dead, 3)]);
      for (const p of parts.slice(k, k + 100)) step('data', p);
    }
    expect(kept.faults).toEqual([]);
    expect(kept.transfers[0]?.bytes).toEqual([...bytes]);
    expect([receiver.kind, receiver.group]).toEqual(['extended', 0x0dead]);
  });
});

describe('broken J1939 transfers', () => {
  const parts = packets(rising(30));

  test.each([
    ['a lost packet', 'wrongNumber', [toAll(30), parts[0]!, parts[2]!, parts[3]!]],
    ['data without an announcement', 'noStart', [parts[0]!, parts[1]!]],
    ['a second announcement before the end', 'interrupted', [toAll(30), parts[0]!, toAll(30)]],
    ['a length that needs no transfer', 'badLength', [toAll(8), parts[0]!]],
    ['a length beyond 1785 bytes', 'badLength', [toAll(1786)]],
    ['a control message that is cut short', 'short', [[32, 20, 0]]],
    ['a packet that is cut short', 'short', [toAll(30), parts[0]!.subarray(0, 6)]],
    ['an abort', 'aborted', [request(30), parts[0]!, [255, 3, 255, 255, 255, 0, 232, 0]]],
    ['the end of the recording', 'unfinished', [toAll(30), parts[0]!]],
  ])('%s', (_, reason, frames) => {
    const { kept, receiver, step } = open();
    for (const f of frames) step((f[0] as number) >= 16 ? 'control' : 'data', f);
    receiver.end();
    expect(kept.faults[0]?.reason).toBe(reason);
    expect(kept.transfers).toEqual([]);
  });

  test('silence of more than 1.25 s', () => {
    const { kept, step } = open();
    step('control', toAll(30));
    step('data', parts[0]!);
    step('data', parts[1]!, 1.3);
    expect(kept.faults).toMatchObject([{ reason: 'timeout', frame: 2, first: 0, received: 7 }]);
  });

  test('an abort by the receiver, with its reason', () => {
    const { kept, step } = open();
    step('control', request(30));
    step('answer', hex('FF 02 FF FF FF 00 E8 00'));
    expect(kept.faults[0]?.words).toContain('reason 2');
  });
});
