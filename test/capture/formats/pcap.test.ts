import { describe, expect, test } from 'vitest';
import { FLAG } from '../../../src/can/frame.ts';
import { pcap } from '../../../src/capture/formats/pcap.ts';
import { type PcapRecord, pcapBytes, socketcan, u32 } from '../bytes.ts';
import { captureOf, frame, framesOf, readBytes, written } from '../frames.ts';

const START = 1_700_000_000;
const at = (fraction: number, data: number[], more: Partial<PcapRecord> = {}): PcapRecord => ({
  seconds: START,
  fraction,
  data,
  ...more,
});
const read = (records: PcapRecord[], options = {}) => readBytes(pcap, pcapBytes(records, options));

describe('times', () => {
  const records = [at(250_000, socketcan(0x1a0, [1])), at(250_001, socketcan(0x1a1, [2]))];

  test.each([
    ['little', 0xa1b2_c3d4, 1000n],
    ['big', 0xa1b2_c3d4, 1000n],
    ['little', 0xa1b2_3c4d, 1n],
    ['big', 0xa1b2_3c4d, 1n],
  ] as const)('%s-endian with magic %i has ticks of %i ns', (order, magic, tick) => {
    const { capture, guess } = read(records, { order, magic });
    expect(capture.originNs).toBe(BigInt(START) * 1_000_000_000n + 250_000n * tick);
    expect([...capture.time]).toEqual([0, Number(tick) / 1e9]);
    expect([...capture.id]).toEqual([0x1a0, 0x1a1]);
    expect(guess).toContain(order);
    expect(guess).toContain(tick === 1n ? 'nanoseconds' : 'microseconds');
  });

  test('small stamps are times since the recorder started, kept as they are', () => {
    const { capture } = read([{ seconds: 3, fraction: 500_000_000, data: socketcan(1, []) }]);
    expect(capture.originNs).toBe(0n);
    expect([...capture.time]).toEqual([3.5]);
  });

  test('time that goes backwards is kept and counted', () => {
    const { capture, notes } = read([
      at(5, socketcan(1, [])),
      at(9, socketcan(1, [])),
      at(7, socketcan(1, [])),
      at(3, socketcan(1, [])),
    ]);
    expect([...capture.time]).toEqual([0, 4e-9, 2e-9, -2e-9]);
    expect(notes).toEqual(['Time goes backwards 2 times, first at frame 2; frames stay in recorded order.']);
  });

  test('negative time is refused when writing, since pcap has none', () => {
    expect(() => written(pcap, captureOf([frame(-5, 1, [])]))).toThrow(
      /Frame 0 is at -1 s: pcap holds times from 0/,
    );
  });
});

describe('records', () => {
  test('identifier, base or extended, and payload stand as sent', () => {
    const { capture } = read([
      at(0, socketcan(0x7ff, [1, 2, 3, 4, 5, 6, 7, 8])),
      at(1, socketcan(0x8000_0123, [])),
      at(2, socketcan(0x9fff_ffff, [9])),
    ]);
    expect(framesOf(capture).map(({ id, flags, data }) => ({ id, flags, data }))).toEqual([
      { id: 0x7ff, flags: 0, data: [1, 2, 3, 4, 5, 6, 7, 8] },
      { id: 0x123, flags: FLAG.extended, data: [] },
      { id: 0x1fff_ffff, flags: FLAG.extended, data: [9] },
    ]);
  });

  test('a record may end with its payload, without the padding', () => {
    const { capture } = read([
      at(0, [...u32(0x123, 'big'), 3, 0, 0, 0, 7, 8, 9]),
      at(1, [...u32(0x124, 'big'), 0, 0, 0, 0]),
      at(2, socketcan(0x125, [1])),
    ]);
    expect(framesOf(capture).map((f) => f.data)).toEqual([[7, 8, 9], [], [1]]);
  });

  test('a remote frame has a length and no payload', () => {
    const { capture } = read([at(0, [...u32(0x4000_0123, 'big'), 5, 0, 0, 0]), at(1, socketcan(0x124, [1]))]);
    expect(framesOf(capture)).toMatchObject([
      { flags: FLAG.remote, length: 5, data: [] },
      { flags: 0, data: [1] },
    ]);
  });

  test('what gives no frame is skipped, counted and located', () => {
    const { capture, notes } = read([
      at(0, socketcan(0x123, [1])),
      at(1, [0, 0, 1]),
      at(2, [...u32(0x123, 'big'), 9, 0, 0, 0, ...Array(9).fill(0)]),
      at(3, [...u32(0x123, 'big'), 0x80, 0, 0, 0, ...Array(8).fill(0)]),
      at(4, [...u32(0x123, 'big'), 8, 0, 0, 0, 1, 2, 3], { original: 16 }),
      at(5, [...u32(0x123, 'big'), 8, 0, 0, 0, 1, 2, 3], { original: 16 }),
    ]);
    expect(capture.count).toBe(1);
    expect(notes).toEqual([
      '1 record was skipped: the one at byte 56 holds fewer than the 8 bytes of a frame header.',
      '1 record was skipped: the one at byte 75 holds a payload length that no frame has.',
      '1 record was skipped: the one at byte 108 holds a CAN XL frame, which is not supported.',
      '2 records were skipped, the first at byte 140: it holds a frame cut short by the snapshot length of the recorder; record with 72 bytes or more.',
    ]);
  });

  test('frames of several buses are refused when writing, since pcap has one', () => {
    const frames = [frame(0, 1, []), frame(1, 1, [], { bus: 2 })];
    expect(() => written(pcap, captureOf(frames))).toThrow(
      'Frame 1 is of bus 2, frame 0 of bus 0: pcap holds one bus; write pcapng, or choose one bus.',
    );
  });
});

describe('recordings that are damaged or no pcap', () => {
  const good = [at(0, socketcan(0x123, [1])), at(1, socketcan(0x124, [2]))];

  test('a record that claims an absurd length ends the reading there', () => {
    const { capture, notes } = read([...good, at(2, socketcan(1, []), { captured: 0x7fff_ffff })]);
    expect(capture.count).toBe(2);
    expect(notes).toEqual([
      'The record at byte 88 claims 2147483647 bytes, more than any CAN frame has; the 2 frames before it are kept.',
    ]);
  });

  test('with no frame before the damage the recording is refused', () => {
    expect(() => read([at(2, socketcan(1, []), { captured: 5000 })])).toThrow(
      'The record at byte 24 claims 5000 bytes, more than any CAN frame has; no frame stands before it.',
    );
  });

  test('a cut in the last record keeps what stands before it', () => {
    const bytes = pcapBytes(good);
    const { capture, notes } = readBytes(pcap, bytes.subarray(0, bytes.length - 3), [7]);
    expect(capture.count).toBe(1);
    expect(notes).toEqual(['The last record is cut short at byte 85; the one frame before it is kept.']);
  });

  test.each([
    [1, 'is 1 (Ethernet); right would be 227 (SocketCAN)'],
    [113, 'is 113 (Linux cooked capture); right would be 227'],
    [9999, 'is 9999; right would be 227'],
  ])('link type %i is refused by name', (linkType, words) => {
    expect(() => read(good, { linkType })).toThrow(words);
  });

  test('the upper bits of the link type field say other things and are passed over', () => {
    expect(read(good, { linkType: 227 | 0xf000_0000 }).capture.count).toBe(2);
  });

  test('a wrong magic is named with the right ones', () => {
    expect(() => read(good, { magic: 0xdead_beef })).toThrow(
      /^This is not pcap: it starts with EF BE AD DE at byte 0; right would be D4 C3 B2 A1/,
    );
    expect(() => readBytes(pcap, Uint8Array.of(1, 2, 3, 4, 5))).toThrow(/This is not pcap/);
  });

  test('a header that is cut short and a recording without frames are told apart', () => {
    expect(() => readBytes(pcap, pcapBytes([]).subarray(0, 20))).toThrow(
      'The pcap header is cut short: it has 24 bytes and the recording ends after 20.',
    );
    expect(() => read([])).toThrow('The pcap recording holds no frame.');
    expect(() => read([at(0, [1])])).toThrow(
      'The pcap recording holds no frame; the record at byte 24 holds fewer than the 8 bytes of a frame header.',
    );
  });
});
