import { describe, expect, test } from 'vitest';
import { FLAG } from '../../../src/can/frame.ts';
import { pcapng } from '../../../src/capture/formats/pcapng.ts';
import { block, face, option, packet, section, socketcan, u16, u32 } from '../bytes.ts';
import { captureOf, frame, framesOf, readBytes, written } from '../frames.ts';

const read = (...blocks: number[][]) => readBytes(pcapng, Uint8Array.from(blocks.flat()));
const DATA = socketcan(0x123, [1, 2, 3]);
const START = 1_700_000_000n;

describe('times', () => {
  test.each([
    ['microseconds without an option', -1, START * 1_000_000n + 5n, 1_000_000n, 5_000n],
    ['10^-3', 3, START * 1000n + 5n, 1000n, 5_000_000n],
    ['10^-9', 9, START * 1_000_000_000n + 5n, 1_000_000_000n, 5n],
    ['10^-10', 10, START * 10_000_000_000n + 50n, 10_000_000_000n, 5n],
    ['2^-10', 0x80 | 10, START * 1024n + 512n, 1024n, 500_000_000n],
    ['2^-30', 0x80 | 30, START * 2n ** 30n + 2n ** 29n, 2n ** 30n, 500_000_000n],
    ['seconds', 0, START, 1n, 0n],
  ])('stamps in %s give the right moment and the right distance', (_, resolution, first, ticks, ns) => {
    const { capture } = read(
      section(),
      face({ resolution }),
      packet(0, first, DATA),
      packet(0, first + ticks, DATA),
      packet(0, first + 3n * ticks, DATA),
    );
    expect(capture.originNs).toBe(START * 1_000_000_000n + ns);
    expect([...capture.time]).toEqual([0, 1, 3]);
  });

  test('interfaces of different resolutions and offsets share one time line', () => {
    const { capture } = read(
      section(),
      face({ name: 'can0', resolution: 9 }),
      face({ name: 'can1', resolution: 6, offset: 1_600_000_000n }),
      face({ name: 'can2', resolution: 0x80 | 20 }),
      packet(0, START * 1_000_000_000n, DATA),
      packet(1, 100_000_000n * 1_000_000n + 250_000n, DATA),
      packet(2, START * 2n ** 20n + 2n ** 19n, DATA),
      packet(0, START * 1_000_000_000n + 750_000_001n, DATA),
    );
    expect([...capture.time]).toEqual([0, 0.25, 0.5, 0.750000001]);
    expect([...capture.bus]).toEqual([0, 1, 2, 0]);
  });

  test('an origin between two ticks of another interface is taken into account to the nanosecond', () => {
    const { capture } = read(
      section(),
      face({ resolution: 9 }),
      face({}),
      packet(0, START * 1_000_000_000n + 7n, DATA),
      packet(1, START * 1_000_000n + 1n, DATA),
      packet(1, START * 1_000_000n + 3n, DATA),
    );
    expect([...capture.time]).toEqual([0, 993e-9, 2993e-9]);
  });

  test('stamps before the first frame give negative times, to the nanosecond', () => {
    const { capture, notes } = read(
      section(),
      face({ resolution: 9 }),
      packet(0, START * 1_000_000_000n, DATA),
      packet(0, START * 1_000_000_000n - 1n, DATA),
    );
    expect([...capture.time]).toEqual([0, -1e-9]);
    expect(notes).toContain('Time goes backwards once, first at frame 1; frames stay in recorded order.');
  });

  test('times before 1970 are written with an offset and read back', () => {
    const frames = [frame(-5_000_000_001, 1, [1]), frame(3, 2, [])];
    expect(framesOf(readBytes(pcapng, written(pcapng, captureOf(frames))).capture)).toEqual(frames);
  });
});

describe('interfaces', () => {
  test('a name that ends in a number gives the bus, one that does not gets the lowest free number', () => {
    const { capture, notes } = read(
      section(),
      face({ name: 'can4' }),
      face({ name: 'body' }),
      face({ name: 'vcan4' }),
      packet(0, 1n, DATA),
      packet(1, 2n, DATA),
      packet(2, 3n, DATA),
    );
    expect([...capture.bus]).toEqual([4, 0, 1]);
    expect([...(capture.busNames ?? [])]).toEqual([
      [0, 'body'],
      [1, 'vcan4'],
    ]);
    expect(notes).toContain('Bus names: body = 0, vcan4 = 1.');
  });

  test('without names the place in the section is the bus, in each section anew', () => {
    const one = [section(), face({}), face({}), packet(1, 1n, DATA)];
    const { capture } = read(
      ...one,
      section('big'),
      face({ order: 'big' }),
      packet(0, 2n, DATA, { order: 'big' }),
    );
    expect([...capture.bus]).toEqual([1, 0]);
  });

  test('bus names are written and read back with their numbers', () => {
    const capture = {
      ...captureOf([frame(1, 1, [], { bus: 7 }), frame(2, 1, [], { bus: 3 })]),
      busNames: new Map([[7, 'body']]),
    };
    const again = readBytes(pcapng, written(pcapng, capture)).capture;
    expect([...again.bus]).toEqual([7, 3]);
    expect([...(again.busNames ?? [])]).toEqual([[7, 'body']]);
  });

  test('packets of an interface that is no CAN are skipped and counted', () => {
    const { capture, notes } = read(
      section(),
      face({ name: 'eth0', linkType: 1 }),
      face({ name: 'can0' }),
      packet(0, 1n, Array(60).fill(1)),
      packet(1, 2n, DATA),
      packet(0, 3n, Array(61).fill(1)),
      packet(9, 3n, DATA),
    );
    expect(capture.count).toBe(1);
    expect(notes).toEqual([
      'Packets of interface eth0 were skipped: 2 of link type 1, not SocketCAN (227).',
      'Packets of an interface that was never described were skipped: 1.',
    ]);
  });

  test('with no CAN interface at all the recording is refused by its link type', () => {
    expect(() => read(section(), face({ name: 'eth0', linkType: 1 }), packet(0, 1n, DATA))).toThrow(
      'The link type of interface eth0 is 1 (Ethernet); right would be 227 (SocketCAN)',
    );
  });
});

describe('blocks', () => {
  test('big-endian blocks give the same frames', () => {
    const order = 'big' as const;
    const { capture, guess } = read(
      section(order),
      face({ order, name: 'can1', resolution: 9 }),
      packet(0, START * 1_000_000_000n, socketcan(0x98fe_f121, [1, 2]), { order }),
    );
    expect(framesOf(capture)).toEqual([
      frame(START * 1_000_000_000n, 0x18fe_f121, [1, 2], { bus: 1, flags: FLAG.extended }),
    ]);
    expect(guess).toBe('pcapng, SocketCAN, 1 interface in nanoseconds, big-endian');
  });

  test('unknown blocks and options are passed over, in pieces of any size', () => {
    const bytes = Uint8Array.from(
      [
        section(),
        block(0x0bad_0bad, Array(5000).fill(7)),
        face({ name: 'can0', extra: option(4711, [1, 2, 3, 4, 5]) }),
        block(5, Array(20).fill(0)),
        packet(0, 1n, DATA, {
          options: [...option(1, [65, 66, 67]), ...option(2, u32(2, 'little')), ...option(0, [])],
        }),
        block(0x8000_0001, []),
        packet(0, 2n, DATA),
      ].flat(),
    );
    for (const size of [1, 3, 64, 1001, bytes.length]) {
      const { capture } = readBytes(pcapng, bytes, [size]);
      expect(framesOf(capture).map((f) => [f.data, f.flags])).toEqual([
        [[1, 2, 3], FLAG.sent],
        [[1, 2, 3], 0],
      ]);
    }
  });

  test('the older packet block is read, the simple one is counted as timeless', () => {
    const old = block(2, [
      ...u16(0, 'little'),
      ...u16(0, 'little'),
      ...u32(0, 'little'),
      ...u32(7, 'little'),
      ...u32(16, 'little'),
      ...u32(16, 'little'),
      ...DATA,
    ]);
    const { capture, notes } = read(section(), face({}), old, block(3, [...u32(16, 'little'), ...DATA]));
    expect([...capture.time]).toEqual([7e-6]);
    expect(notes).toEqual(['Simple packet blocks hold no time and were skipped: 1.']);
  });

  test('pcapng version 1.2 is read as 1.0, version 2 is refused', () => {
    expect(read(section('little', 1, 2), face({}), packet(0, 1n, DATA)).capture.count).toBe(1);
    expect(() => read(section('little', 2, 0), face({}))).toThrow(
      'The section at byte 0 has version 2; right would be version 1',
    );
  });
});

describe('recordings that are damaged or no pcapng', () => {
  const good = [section(), face({}), packet(0, 1n, DATA)];
  const size = good.flat().length;

  test('a length that the end of the block does not confirm ends the reading there', () => {
    const bad = packet(0, 2n, DATA);
    bad[bad.length - 4] = 99;
    const { capture, notes } = read(...good, bad, packet(0, 3n, DATA));
    expect(capture.count).toBe(1);
    expect(notes).toEqual([
      `The block at byte ${size} starts with the length 48 and ends with 99; the one frame before it is kept.`,
    ]);
  });

  test('data that would not fit its packet ends the reading there', () => {
    const { notes } = read(...good, packet(0, 2n, DATA, { captured: 17 }));
    expect(notes[0]).toBe(
      `The packet at byte ${size} claims 17 bytes of data in a block of 48; the one frame before it is kept.`,
    );
  });

  test('an absurd block length ends the reading there', () => {
    const bad = packet(0, 2n, DATA);
    bad.splice(4, 4, ...u32(0xffff_fffc, 'little'));
    expect(read(...good, bad).notes[0]).toBe(
      `The block at byte ${size} claims 4294967292 bytes, which no such block has; the one frame before it is kept.`,
    );
  });

  test('a cut in the last block keeps what stands before it', () => {
    const bytes = Uint8Array.from([...good.flat(), ...packet(0, 2n, DATA)]);
    const { capture, notes } = readBytes(pcapng, bytes.subarray(0, bytes.length - 1));
    expect(capture.count).toBe(1);
    expect(notes).toEqual([
      `The last block is cut short at byte ${size + 47}; the one frame before it is kept.`,
    ]);
  });

  test('a wrong magic and a cut header are told apart', () => {
    expect(() => read(block(0x0a0d_0d0a, u32(0x1234_5678, 'little')))).toThrow(
      /^This is not pcapng: it starts with 0A 0D 0D 0A/,
    );
    expect(() => readBytes(pcapng, Uint8Array.from(section()).subarray(0, 11))).toThrow(
      'The pcapng section header is cut short: it has at least 28 bytes and the recording ends after 11.',
    );
    expect(() => read(section())).toThrow('The pcapng recording holds no frame.');
  });
});
