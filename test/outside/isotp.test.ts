/**
 * ISO-TP frames against published ones. LIB = test suite of a public ISO-TP library; KER = the Linux kernel's
 * Documentation/networking/iso15765-2.rst. The vehicle number of the exchange is a commonly shown one, from memory.
 */
import { describe, expect, test } from 'vitest';
import { FLAG } from '../../src/can/frame.ts';
import { flowControl, IsoTpReceiver } from '../../src/can/transport/isotp.ts';
import { isoTpAddress } from '../../src/can/transport/isotpAddress.ts';
import { type IsoTpSendOptions, isoTpFrames } from '../../src/can/transport/isotpSend.ts';
import { Collector, hex, rising } from '../can/transport/collect.ts';

function receive(frames: readonly Uint8Array[]): Collector {
  const kept = new Collector();
  const receiver = new IsoTpReceiver(kept, { typeAt: 0 });
  frames.forEach((f, i) => {
    receiver.push(i, i / 1000, f, 0, f.length);
  });
  receiver.end();
  return kept;
}

const text = (bytes: Uint8Array) => Buffer.from(bytes).toString('hex').toUpperCase();
const p = (from: number, to: number) => text(rising(to + 1).subarray(from));

describe('published ISO-TP frames', () => {
  test.each<[number, IsoTpSendOptions, string[]]>([
    [10, {}, [`100A${p(0, 5)}`, `21${p(6, 9)}`]], // LIB
    [20, {}, [`1014${p(0, 5)}`, `21${p(6, 12)}`, `22${p(13, 19)}`]], // LIB
    [37, { frameLength: 12 }, [`1025${p(0, 9)}`, `21${p(10, 20)}`, `22${p(21, 31)}`, `23${p(32, 36)}`]], // LIB
    [7, {}, [`07${p(0, 6)}`]], // LIB, KER: single frame 0N
    [10, { frameLength: 12 }, [`000A${p(0, 9)}`]], // LIB, KER: single frame 00 NN of CAN FD
  ])('%i bytes, %o', (size, options, expected) => {
    const frames = isoTpFrames(rising(size), { ...options, padding: null });
    expect(frames.map(text)).toEqual(expected);
    expect(receive(frames).transfers.map((t) => t.bytes)).toEqual([[...rising(size)]]);
  });

  test('announced lengths on both sides of 4095 bytes', () => {
    const first = (size: number) => text(isoTpFrames(new Uint8Array(size))[0]!);
    expect(first(4095)).toMatch(/^1FFF/); // LIB
    expect(first(4096)).toMatch(/^100000001000/); // LIB
    expect(first(10_000)).toMatch(/^100000002710/); // LIB
    expect(isoTpFrames(new Uint8Array(4095))).toHaveLength(586); // computed: 1 + ceil(4089 / 7)
  });

  test('consecutive frames count from 1 and go from 15 on with 0', () => {
    const parts = isoTpFrames(new Uint8Array(150)).slice(1); // LIB, KER
    expect(parts.map((f) => f[0]! & 15)).toEqual([...rising(16).subarray(1), ...rising(6)]);
  });

  test.each([
    ['300000', 'continue', 0, 0],
    ['310000', 'wait', 0, 0],
    ['320000', 'overflow', 0, 0],
    ['30087F', 'continue', 8, 0.127],
    ['3000F1', 'continue', 0, 0.0001],
    ['3000F9', 'continue', 0, 0.0009],
  ])('flow control %s', (bytes, state, blockSize, separationS) => {
    expect(flowControl(hex(bytes), 0, 3, 0)).toMatchObject({ state, blockSize, separationS }); // LIB, KER
  });

  test('the exchange that reads a vehicle number', () => {
    const kept = receive([
      hex('10 14 49 02 01 31 44 34'), // layout: LIB; vehicle number: from memory, commonly shown
      hex('21 47 50 30 30 52 35 35'),
      hex('22 42 31 32 33 34 35 36'),
    ]);
    expect(kept.faults).toEqual([]);
    const bytes = Uint8Array.from(kept.transfers[0]!.bytes);
    expect(text(bytes.subarray(0, 3))).toBe('490201');
    expect(new TextDecoder().decode(bytes.subarray(3))).toBe('1D4GP00R55B123456'); // from memory
  });

  test('the exchange of a course page, whose frames are cut too small, is not taken for a whole one', () => {
    // A course page on transport protocols prints a first frame with 4 and consecutive frames with 6 bytes of data; in
    // frames of 8 bytes it must be 6 and 7. Frames below are cut as that page cuts them.
    const number = new TextEncoder().encode('1D4GP00R55B123456');
    const message = Uint8Array.of(0x49, 0x02, 0x01, ...number);
    const cut = [
      Uint8Array.of(0x10, 0x14, ...message.subarray(0, 4)),
      Uint8Array.of(0x21, ...message.subarray(4, 10)),
      Uint8Array.of(0x22, ...message.subarray(10, 16)),
      Uint8Array.of(0x23, ...message.subarray(16, 20)),
    ];
    const kept = receive(cut);
    expect(kept.transfers).toEqual([]);
    expect(kept.faults[0]).toMatchObject({ reason: 'short', frame: 0 });
    // Filled up to 8 bytes, each frame is possible by itself, but the bytes are not those of the message.
    const filled = cut.map((f) => Uint8Array.from({ length: 8 }, (_, i) => f[i] ?? 0));
    expect(receive(filled).transfers.map((t) => t.bytes)).not.toContainEqual([...message]);
  });

  test('identifiers of diagnostics and who answers whom', () => {
    expect(isoTpAddress(0x7df, 0)).toEqual({ to: 'functional', typeAt: 0, peer: -1 }); // from memory
    expect(isoTpAddress(0x7e0, 0)).toEqual({ to: 'unit', typeAt: 0, peer: 0x7e8 }); // from memory
    expect(isoTpAddress(0x7ef, 0)).toEqual({ to: 'tester', typeAt: 0, peer: 0x7e7 }); // from memory
    expect(isoTpAddress(0x18db33f1, FLAG.extended)).toMatchObject({ to: 'functional', peer: -1 }); // from memory
    expect(isoTpAddress(0x18da10f1, FLAG.extended)).toMatchObject({ to: 'unit', peer: 0x18daf110 }); // seen in a public recording
    expect(isoTpAddress(0x18daf110, FLAG.extended)).toMatchObject({ to: 'tester', peer: 0x18da10f1 }); // seen in a public recording
    expect(isoTpAddress(0x18ce10f1, FLAG.extended)).toMatchObject({ to: 'unit', typeAt: 1 }); // mixed addressing, from memory
    expect([isoTpAddress(0x123, 0), isoTpAddress(0x0cf00400, FLAG.extended)]).toEqual([null, null]);
  });
});
