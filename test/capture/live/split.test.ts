import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { pcap } from '../../../src/capture/formats/pcap.ts';
import { pcapng } from '../../../src/capture/formats/pcapng.ts';
import { type StreamNote, StreamSplitter } from '../../../src/capture/live/split.ts';
import { captureOf, type Frame, frame, framesArbitrary, framesOf, readBytes, written } from '../frames.ts';

const seed = Number(process.env.SEED ?? 20261125);
console.log(`random streams with seed ${seed}`);

const START = 1_764_000_000_000_000_000n;
const frames = (count: number, from = 0): Frame[] =>
  Array.from({ length: count }, (_, i) =>
    frame(START + BigInt((from + i) * 1_000_000), 0x100 + (i % 7), [i & 255, from & 255]),
  );

/** Splits `bytes` in pieces of the given sizes (the last repeats) and puts together what passes. */
function split(
  bytes: Uint8Array,
  sizes: readonly number[] = [bytes.length],
  how: 'ended' | 'stopped' = 'ended',
) {
  const notes: StreamNote[] = [];
  const splitter = new StreamSplitter(3, (note) => notes.push(note));
  const out: Buffer[] = [];
  const keep = (blocks: Uint8Array[]) => out.push(...blocks.map((b) => Buffer.from(b)));
  for (let at = 0, k = 0; at < bytes.length; k++) {
    const size = Math.max(1, sizes[Math.min(k, sizes.length - 1)] as number);
    keep(splitter.push(bytes.slice(at, at + size)));
    at += size;
  }
  keep(splitter.end(how));
  return {
    out: new Uint8Array(Buffer.concat(out)),
    notes,
    texts: notes.map((n) => n.text),
    words: splitter.words,
  };
}

const joined = (...parts: Uint8Array[]) => new Uint8Array(Buffer.concat(parts));
const read = (bytes: Uint8Array) => framesOf(readBytes(pcapng, bytes).capture);
const onBus = (list: Frame[], bus: number) => list.map((f) => ({ ...f, bus }));
/** pcap in microseconds: the nanosecond magic number and fractions turned. */
function inMicroseconds(bytes: Uint8Array): Uint8Array {
  const out = bytes.slice();
  const view = new DataView(out.buffer);
  view.setUint32(0, 0xa1b2c3d4, true);
  for (let at = 24; at < out.length; at += 16 + view.getUint32(at + 8, true))
    view.setUint32(at + 4, view.getUint32(at + 4, true) / 1000, true);
  return out;
}
/** The same pcap in the other byte order. */
function turned(bytes: Uint8Array): Uint8Array {
  const out = Buffer.from(bytes);
  const view = new DataView(bytes.buffer, bytes.byteOffset);
  for (const at of [0, 8, 12, 16, 20]) out.writeUInt32BE(view.getUint32(at, true), at);
  for (const at of [4, 6]) out.writeUInt16BE(view.getUint16(at, true), at);
  for (let p = 24; p < out.length; p += 16 + view.getUint32(p + 8, true))
    for (let k = 0; k < 16; k += 4) out.writeUInt32BE(view.getUint32(p + k, true), p + k);
  return new Uint8Array(out);
}

const pieces = fc.array(fc.integer({ min: 1, max: 200 }), { minLength: 1, maxLength: 20 });

test('a pcapng stream passes block by block and gives the same frames, whatever its pieces', () => {
  fc.assert(
    fc.property(framesArbitrary('many'), pieces, (list, sizes) => {
      const { out, texts, words } = split(written(pcapng, captureOf(list)), sizes);
      expect(read(out)).toEqual(list);
      expect(texts).toEqual([]);
      expect(words).toBe('pcapng');
    }),
    { seed, numRuns: 150 },
  );
});

test('a pcap stream becomes pcapng with the same frames on the bus that was named', () => {
  fc.assert(
    fc.property(framesArbitrary('one'), pieces, (list, sizes) => {
      const bytes = written(pcap, captureOf(list));
      const { out, texts, words } = split(bytes, sizes);
      expect(read(out)).toEqual(onBus(list, 3));
      expect(texts).toEqual([]);
      expect(words).toBe('pcap in nanoseconds');
      expect(split(turned(bytes), sizes).out).toEqual(out);
    }),
    { seed, numRuns: 150 },
  );
});

test('whatever has passed at any moment is readable: all whole frames that came, no more', () => {
  const list = frames(8);
  for (const [format, bus, record] of [
    [pcap, 3, 32],
    [pcapng, 0, 48],
  ] as const) {
    const bytes = written(format, captureOf(list));
    const splitter = new StreamSplitter(3, () => {});
    let out = new Uint8Array(0);
    const head = bytes.length - 8 * record;
    for (let at = 0; at < bytes.length; at++) {
      for (const block of splitter.push(bytes.subarray(at, at + 1))) out = joined(out, block);
      const whole = Math.floor((at + 1 - head) / record);
      if (whole > 0) expect(read(out)).toEqual(onBus(list.slice(0, whole), bus));
    }
  }
});

test('a stream that ends in the middle of a record keeps what came before and says what was left out', () => {
  const bytes = written(pcap, captureOf(frames(10)));
  const { out, notes } = split(bytes.subarray(0, bytes.length - 5));
  expect(read(out)).toHaveLength(9);
  expect(notes).toEqual([
    {
      text: `The stream ended in the middle of a record, at byte ${bytes.length - 5}: the 27 bytes of it that came were left out, all before it is kept.`,
      lost: 27,
    },
  ]);
  expect(split(bytes.subarray(0, bytes.length - 5), undefined, 'stopped').notes).toEqual([]);
});

test('a sender that begins anew with another resolution starts a new section, and that is said', () => {
  const first = inMicroseconds(written(pcap, captureOf(frames(10))));
  const second = written(pcap, captureOf(frames(10, 100)));
  const { out, texts } = split(joined(first, second), [33]);
  expect(read(out)).toEqual(onBus([...frames(10), ...frames(10, 100)], 3));
  expect(texts).toEqual([
    `The stream began anew at byte ${first.length}, as pcap in nanoseconds (before: pcap in microseconds): a new section of the recording.`,
  ]);
});

test('a sender that breaks off at any byte and begins anew, in either format, loses only the broken record', () => {
  const made = { pcap: written(pcap, captureOf(frames(4))), pcapng: written(pcapng, captureOf(frames(4))) };
  const again = {
    pcap: written(pcap, captureOf(frames(5, 50))),
    pcapng: written(pcapng, captureOf(frames(5, 50))),
  };
  for (const first of ['pcap', 'pcapng'] as const)
    for (const second of ['pcap', 'pcapng'] as const)
      for (let cut = made[first].length - 70; cut <= made[first].length; cut++) {
        const { out, notes } = split(joined(made[first].subarray(0, cut), again[second]), [64]);
        const got = read(out).map(({ ns }) => ns);
        const whole =
          first === 'pcap' ? Math.floor((cut - 24) / 32) : 4 - Math.ceil((made.pcapng.length - cut) / 48);
        expect(got, `${first} cut at ${cut}, then ${second}`).toEqual(
          [...frames(whole), ...frames(5, 50)].map(({ ns }) => ns),
        );
        expect(notes.some((note) => note.lost > 0)).toBe(
          cut !== made[first].length && (made[first].length - cut) % (first === 'pcap' ? 32 : 48) !== 0,
        );
      }
});

test('a payload that looks like the head of a pcap header is a payload', () => {
  const list = [
    frame(START, 0x1a0, [0xd4, 0xc3, 0xb2, 0xa1, 2, 0, 4, 0]),
    frame(START + 1000n, 0x1a1, [0x0a, 0x0d, 0x0d, 0x0a, 0x4d, 0x3c, 0x2b, 0x1a]),
    frame(START + 2000n, 0x1a2, [0, 0, 0, 0, 0, 0x4d, 0x3c, 0xb2]),
  ];
  const { out, texts } = split(written(pcap, captureOf(list)), [7]);
  expect(read(out)).toEqual(onBus(list, 3));
  expect(texts).toEqual([]);
});

test('a last record that could be the start of a header passes once nothing more comes', () => {
  const bytes = written(
    pcap,
    captureOf([frame(START, 1, [1]), frame(START, 2, [0, 0, 0, 0, 0, 0, 0, 0xd4])]),
  );
  const splitter = new StreamSplitter(0, () => {});
  const before = splitter.push(bytes).length;
  expect(splitter.settle()).toHaveLength(1);
  expect(before).toBe(2);
  expect(splitter.settle()).toEqual([]);
});

test('damage is told with its place, and reading goes on where the stream begins anew', () => {
  const first = written(pcapng, captureOf(frames(10)));
  const at = first.length - 5 * 48;
  first[at + 4] = 0x31;
  const { out, texts, notes } = split(joined(first, written(pcapng, captureOf(frames(3, 70)))), [100]);
  expect(read(out)).toEqual([...frames(5), ...frames(3, 70)]);
  expect(texts[0]).toBe(
    `Damage at byte ${at} of the stream: the block claims 49 bytes. What follows is left out until the stream begins anew.`,
  );
  expect(notes.reduce((sum, n) => sum + n.lost, 0)).toBe(5 * 48);
});

test('a section header whose byte order cannot be told is damage: nothing of it passes', () => {
  const first = written(pcapng, captureOf(frames(2)));
  const broken = written(pcapng, captureOf(frames(2, 10)));
  broken[8] = 0x4e;
  const { out, texts } = split(joined(first, broken, written(pcapng, captureOf(frames(2, 20)))));
  expect(read(out)).toEqual([...frames(2), ...frames(2, 20)]);
  expect(texts[0]).toMatch(new RegExp(`^Damage at byte ${first.length} of the stream: a section header`));
});

test('a packet block that claims more than it holds is left out alone, so that what follows stays readable', () => {
  const bytes = written(pcapng, captureOf(frames(3)));
  bytes[bytes.length - 2 * 48 + 20] = 20;
  const { out, texts } = split(bytes);
  expect(read(out)).toEqual([frames(3)[0], frames(3)[2]]);
  expect(texts[0]).toMatch(/claims 20 bytes of data in a block of 48 and was left out/);
});

describe('what is no stream is refused in one sentence:', () => {
  const ethernet = written(pcap, captureOf(frames(1)));
  ethernet[20] = 1;
  test.each([
    [
      'text',
      new TextEncoder().encode('t,bus,id,data\n0,0,1A0,00\n'),
      /neither pcap nor pcapng: it starts with 74 2C 62 75/,
    ],
    ['gzip', Uint8Array.of(0x1f, 0x8b, 8, 0), /packed with gzip: unpack it on the way, with gzip -dc/],
    [
      'another link type',
      ethernet,
      /link type at byte 20 of the stream is 1 \(Ethernet\); right would be 227/,
    ],
  ])('%s', (_, bytes, sentence) => {
    expect(() => split(bytes)).toThrow(sentence);
  });
});

test('a section that states its length passes as one of unknown length, since blocks may be left out of it', () => {
  const bytes = written(pcapng, captureOf(frames(2)));
  new DataView(bytes.buffer).setBigInt64(16, BigInt(bytes.length - 28), true);
  const { out } = split(bytes);
  expect(new DataView(out.buffer).getBigInt64(16, true)).toBe(-1n);
  expect(read(out)).toEqual(frames(2));
});

test('a stream that ends within its header keeps nothing and says so', () => {
  const { out, texts } = split(written(pcap, captureOf(frames(1))).subarray(0, 10));
  expect(out).toHaveLength(0);
  expect(texts).toEqual(['The stream ended after 10 bytes, in the middle of its header.']);
});

test('whatever bytes come, what passes is readable pcapng or nothing', () => {
  fc.assert(
    fc.property(
      framesArbitrary('many'),
      fc.array(fc.tuple(fc.double({ min: 0, max: 1, noNaN: true }), fc.nat(255)), {
        minLength: 1,
        maxLength: 6,
      }),
      pieces,
      (list, changes, sizes) => {
        const bytes = written(pcapng, captureOf(list));
        for (const [where, value] of changes) bytes[Math.floor(where * (bytes.length - 1))] = value;
        let out: Uint8Array;
        try {
          out = split(bytes, sizes).out;
        } catch (error) {
          expect((error as Error).name).toBe('CaptureError');
          return;
        }
        if (out.length === 0) return;
        try {
          const { notes } = readBytes(pcapng, out);
          expect(notes.filter((note) => /cut short|claims|starts with the length/.test(note))).toEqual([]);
        } catch (error) {
          expect((error as Error).message).toMatch(/no frame|link type/);
        }
      },
    ),
    { seed, numRuns: 300 },
  );
});
