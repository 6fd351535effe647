import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { FastPacketReceiver } from '../../../src/can/transport/fastPacket.ts';
import { Collector, rising } from './collect.ts';

/** The frames of one fast packet. */
function fastFrames(bytes: Uint8Array, sequence: number): Uint8Array[] {
  const count = bytes.length <= 6 ? 1 : 1 + Math.ceil((bytes.length - 6) / 7);
  return Array.from({ length: count }, (_, k) => {
    const frame = new Uint8Array(8).fill(0xff);
    frame[0] = (sequence << 5) | k;
    if (k === 0) {
      frame[1] = bytes.length;
      frame.set(bytes.subarray(0, 6), 2);
    } else frame.set(bytes.subarray(7 * k - 1, 7 * k + 6), 1);
    return frame;
  });
}

function receive(frames: readonly Uint8Array[], stepS = 0.001): Collector {
  const kept = new Collector();
  const receiver = new FastPacketReceiver(kept);
  frames.forEach((f, i) => {
    receiver.push(i, i * stepS, f, 0, f.length);
  });
  receiver.end();
  return kept;
}

describe('fast packets', () => {
  test('of 0 to 223 bytes come back whole', () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 223 }), fc.nat(7), (bytes, sequence) => {
        const frames = fastFrames(bytes, sequence);
        const kept = receive(frames);
        expect(kept.faults).toEqual([]);
        expect(kept.transfers).toEqual([
          { first: 0, last: frames.length - 1, frames: frames.length, bytes: [...bytes] },
        ]);
      }),
    );
    expect(fastFrames(rising(223), 0)).toHaveLength(32);
  });

  test('with two sequence numbers may be interleaved', () => {
    const a = fastFrames(rising(26), 1);
    const b = fastFrames(rising(19), 2);
    const kept = receive([a[0]!, b[0]!, a[1]!, b[1]!, b[2]!, a[2]!, a[3]!]);
    expect(kept.faults).toEqual([]);
    expect(kept.transfers.map((t) => [t.first, t.last, t.bytes.length])).toEqual([
      [1, 4, 19],
      [0, 6, 26],
    ]);
  });

  test.each([
    ['a lost frame', 'wrongNumber', [0, 1, 3]],
    ['a frame twice', 'wrongNumber', [0, 1, 1]],
    ['frames without a start', 'noStart', [1, 2]],
    ['a new packet before the end', 'interrupted', [0, 1, 0, 1, 2, 3]],
    ['the end of the recording', 'unfinished', [0, 1]],
  ])('%s is reported', (_, reason, order) => {
    const frames = fastFrames(rising(26), 3);
    expect(receive(order.map((k) => frames[k]!)).reasons).toEqual([reason]);
  });

  test('a length beyond 223 bytes, a short frame and a long silence are reported', () => {
    expect(receive([Uint8Array.of(0, 224, 0, 0, 0, 0, 0, 0)]).reasons).toEqual(['badLength']);
    expect(receive([Uint8Array.of(0, 20, 1)]).reasons).toEqual(['short']);
    expect(receive(fastFrames(rising(26), 0), 0.8).reasons).toEqual(['timeout']);
  });
});
