import { deflateSync } from 'node:zlib';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { FLAG } from '../../../src/can/frame.ts';
import { CaptureError } from '../../../src/capture/error.ts';
import type { Packing } from '../../../src/capture/formats/format.ts';
import { mdf4 } from '../../../src/capture/formats/mdf4.ts';
import { writeMdf } from '../../../src/capture/mdf/write.ts';
import type { Capture } from '../../../src/capture/store.ts';
import {
  captureOf,
  differences,
  type Frame,
  frame,
  framesArbitrary,
  framesOf,
  outOfRange,
  readBytes,
} from '../frames.ts';
import {
  bytesOf,
  frameChannels,
  type Link,
  longRecord,
  MadeFile,
  type Places,
  SHORT,
  shortRecord,
} from '../mdf/handmade.ts';

const seed = Number(process.env.SEED ?? 20261125);
const START = 1_700_000_000_000_000_000n;
/** From 0 to 1, evenly: `fc.double` prefers numbers next to 0. */
const share = fc.nat({ max: 2 ** 30 }).map((n) => n / 2 ** 30);
const PACKINGS: Packing[] = ['none', 'deflate', 'transposed'];

function packedAs(capture: Capture, packing: Packing): Uint8Array {
  return bytesOf(...writeMdf(capture, { packing }));
}

/** A sorted file with one group of CAN frames, whose records are `records`. */
function sorted(
  records: readonly Uint8Array[],
  {
    more = {},
    size = records[0]?.length ?? 32,
    cycles = records.length,
    startNs = START,
    flags = 0,
  } = {} as {
    more?: Parameters<typeof frameChannels>[2];
    size?: number;
    cycles?: number;
    startNs?: bigint;
    flags?: number;
  },
): MadeFile {
  const file = new MadeFile();
  file.header('DG', startNs, flags);
  file.dataGroup('DG', 0, 'CG', 'DT');
  file.channelGroup('CG', 'a t', { cycles, bytes: size });
  frameChannels(file, 'a', more);
  file.data('DT', bytesOf(...records));
  return file;
}

const ns = (seconds: number) => START + BigInt(Math.round(seconds * 1e9));

describe('channels of frames', () => {
  test('the long form gives identifier, flags, direction and payload', () => {
    const { capture, guess, notes } = readBytes(
      mdf4,
      sorted([
        longRecord(0, { bus: 2, id: 0x123, data: [1, 2, 3] }),
        longRecord(0.5, { bus: 1, id: 0x18fe_f121, ide: 1, dir: 1, data: [1, 2, 3, 4, 5, 6, 7, 8] }),
        longRecord(1.25, { id: 0x7ff, edl: 1, brs: 1, esi: 1 }),
      ]).bytes(),
    );
    expect(framesOf(capture)).toEqual([
      frame(ns(0), 0x123, [1, 2, 3], { bus: 2 }),
      frame(ns(0.5), 0x18fe_f121, [1, 2, 3, 4, 5, 6, 7, 8], { bus: 1, flags: FLAG.extended | FLAG.sent }),
      frame(ns(1.25), 0x7ff, [], { flags: FLAG.fd | FLAG.bitRateSwitch | FLAG.errorState }),
    ]);
    expect(capture.originNs).toBe(START);
    expect([guess, notes]).toEqual(['MDF 4.10, CAN data frames, sorted', []]);
  });

  test('the short form gives identifier and payload', () => {
    const records = [shortRecord(1, 3, 0x8000_0123, [9, 8]), shortRecord(2, 3, 0x456, [])];
    const more = { places: SHORT, data: { byte: 15, bits: 64, type: 0 } };
    expect(framesOf(readBytes(mdf4, sorted(records, { more }).bytes()).capture)).toEqual([
      frame(ns(1), 0x123, [9, 8], { bus: 3, flags: FLAG.extended }),
      frame(ns(2), 0x456, [], { bus: 3 }),
    ]);
  });

  test('FD payloads come from records with room for 64 bytes, their length from DataLength or from the DLC', () => {
    const data = Array.from({ length: 12 }, (_, k) => k);
    const record = longRecord(0, { id: 1, edl: 1, data, room: 64, dlc: 9 });
    const bytes = { byte: 24, bits: 512, type: 5 };
    const { ID, IDE, DLC, EDL } = {
      ID: [9, 0, 29],
      IDE: [12, 7, 1],
      DLC: [13, 0, 4],
      EDL: [13, 6, 1],
    } as Places;
    for (const more of [{ data: bytes }, { data: bytes, places: { ID, IDE, DLC, EDL } as Places }]) {
      const { capture } = readBytes(mdf4, sorted([record, record], { more }).bytes());
      expect(framesOf(capture)).toEqual(Array(2).fill(frame(ns(0), 1, data, { flags: FLAG.fd })));
    }
  });

  test('channels may stand at any bit: an identifier across bytes, flags in the middle, either byte order', () => {
    // Time u64 in ns big-endian at 0; ID 29 bits from bit 3 of byte 9; IDE bit 2 of byte 9; DataLength bits 1–4 of byte 8.
    const id = 0x1abc_def0 >>> 0;
    const record = (t: bigint) => {
      const word = (BigInt(id) << 3n) | (1n << 2n);
      const out = bytesOf([8, 0], [1, 3 << 1], [4, word], Uint8Array.of(7, 8, 9, 0, 0, 0, 0, 0));
      new DataView(out.buffer).setBigUint64(0, t, false);
      return out;
    };
    const file = new MadeFile();
    file.header('DG', START);
    file.dataGroup('DG', 0, 'CG', 'DT');
    file.channelGroup('CG', 'a t', { cycles: 2, bytes: 21 });
    file.linear('ns', 0.25, 1e-9);
    frameChannels(file, 'a', {
      time: { dataType: 1, conversion: 'ns' },
      places: { ID: [9, 3, 29], IDE: [9, 2, 1], DataLength: [8, 1, 4] },
      data: { byte: 13, bits: 64, type: 0 },
    });
    file.data('DT', bytesOf(record(123_456_789n), record(3_600_000_000_007n)));
    const { capture } = readBytes(mdf4, file.bytes());
    expect([...capture.time]).toEqual([0.123456789 + 0.25, 3600.000000007 + 0.25]);
    expect(framesOf(capture).map((f) => [f.id, f.flags, f.data])).toEqual(Array(2).fill([id, 1, [7, 8, 9]]));
  });

  test('a time in 32-bit floating point, and one that is the number of the record, are linear too', () => {
    const half = longRecord(0, { id: 5 });
    new DataView(half.buffer).setFloat32(0, 0.5, true);
    const made = (time: object) => {
      const file = new MadeFile();
      file.header('DG', START);
      file.dataGroup('DG', 0, 'CG', 'DT');
      file.channelGroup('CG', 'a t', { cycles: 3, bytes: 32 });
      file.linear('scale', 1, 0.01);
      frameChannels(file, 'a', { time });
      file.data('DT', bytesOf(half, half, half));
      return readBytes(mdf4, file.bytes()).capture;
    };
    expect([...made({ bits: 32 }).time]).toEqual([0.5, 0.5, 0.5]);
    expect([...made({ type: 3, bits: 0, conversion: 'scale' }).time]).toEqual([1, 1.01, 1.02]);
  });

  test('a record that its recorder marked as invalid is skipped and counted', () => {
    const valid = bytesOf(longRecord(1, { id: 1 }), [1, 0b1000]);
    const invalid = bytesOf(longRecord(2, { id: 2 }), [1, 0b0100]);
    const file = new MadeFile();
    file.header('DG', START);
    file.dataGroup('DG', 0, 'CG', 'DT');
    file.channelGroup('CG', 'a t', { cycles: 2, bytes: 32, invalid: 1 });
    frameChannels(file, 'a', { invalidBitOfId: 2 });
    file.data('DT', bytesOf(valid, invalid));
    const { capture, notes } = readBytes(mdf4, file.bytes());
    expect([...capture.id]).toEqual([1]);
    expect(notes).toEqual(['Records of data frames were skipped: 1 that the recorder marked as invalid.']);
  });

  test('lengths that no frame has and times that are no numbers are skipped and counted', () => {
    const long = longRecord(3, { id: 3 });
    long[14] = 9;
    const { capture, notes } = readBytes(
      mdf4,
      sorted([
        longRecord(1, { id: 1 }),
        longRecord(Number.NaN, { id: 2 }),
        long,
        longRecord(4, { id: 4 }),
      ]).bytes(),
    );
    expect([...capture.id]).toEqual([1, 4]);
    expect(notes).toEqual([
      'Records of data frames were skipped: 1 without a time.',
      'Records of data frames were skipped: 1 with a payload length that no frame has.',
    ]);
  });

  test('a payload that is longer than the room in its record is skipped, not read on into the next', () => {
    const record = longRecord(1, { id: 2, edl: 1 });
    record[14] = 12;
    const { capture, notes } = readBytes(
      mdf4,
      sorted([longRecord(0, { id: 1 }), record, longRecord(2, { id: 3 })]).bytes(),
    );
    expect([...capture.id]).toEqual([1, 3]);
    expect(notes).toEqual([
      'Records of data frames were skipped: 1 with a payload length that no frame has.',
    ]);
  });

  test('a start in local time is said to be taken as UTC, and no start at all gives relative times', () => {
    const record = longRecord(1, { id: 1 });
    expect(readBytes(mdf4, sorted([record], { flags: 1 }).bytes()).notes).toEqual([
      'The start is the local time of the recorder, with no time zone; it was taken as UTC.',
    ]);
    const relative = readBytes(mdf4, sorted([record], { startNs: 0n }).bytes());
    expect([relative.capture.originNs, relative.guess]).toEqual([
      0n,
      'MDF 4.10, CAN data frames, sorted, relative times',
    ]);
  });
});

describe('kinds of frames and buses', () => {
  /** Groups of their own for data, remote and error frames, and of LIN. */
  function mixed(): MadeFile {
    const file = new MadeFile();
    file.header('DG 1', START);
    const kinds = ['CAN_DataFrame', 'CAN_RemoteFrame', 'CAN_ErrorFrame', 'LIN_Frame'];
    for (const [k, parent] of kinds.entries()) {
      file.dataGroup(`DG ${k + 1}`, k < 3 ? `DG ${k + 2}` : 0, `CG ${k + 1}`, `DT ${k + 1}`);
      file.channelGroup(`CG ${k + 1}`, `${k} t`, { cycles: k === 3 ? 1 : 2, bytes: 32 });
      frameChannels(file, `${k}`, {
        parent,
        ...(k === 2 ? { places: { BusChannel: [8, 0, 8], ErrorType: [13, 0, 3] }, data: null } : {}),
        ...(k === 1 ? { data: null } : {}),
      });
    }
    file.data('DT 1', bytesOf(longRecord(1, { id: 1, data: [1] }), longRecord(4, { id: 2, data: [2] })));
    file.data('DT 2', bytesOf(longRecord(2, { id: 3, dlc: 5 }), longRecord(4, { id: 4, dlc: 0, dir: 1 })));
    file.data('DT 3', bytesOf(longRecord(0, { dlc: 4, bus: 1 }), longRecord(3, { dlc: 5, bus: 1 })));
    file.data('DT 4', longRecord(0, {}));
    return file;
  }

  test('groups are put together by time, at equal times in their order', () => {
    const { capture, notes, guess } = readBytes(mdf4, mixed().bytes());
    expect(
      framesOf(capture).map((f) => [Number(f.ns - START) / 1e9, f.id, f.flags, f.length, f.bus]),
    ).toEqual([
      [0, 0x08, FLAG.error, 8, 1],
      [1, 1, 0, 1, 0],
      [2, 3, FLAG.remote, 5, 0],
      [3, 0x20, FLAG.error, 8, 1],
      [4, 2, 0, 1, 0],
      [4, 4, FLAG.remote | FLAG.sent, 0, 0],
    ]);
    // linux/can/error.h, from memory: byte 3 = 0x08 says that the violation was in the CRC sequence.
    expect(framesOf(capture)[0]?.data).toEqual([0, 0, 0, 8, 0, 0, 0, 0]);
    expect(notes).toEqual(['Groups of events that are no CAN frames were passed over: LIN_Frame.']);
    expect(guess).toBe('MDF 4.10, CAN data and remote and error frames, sorted');
  });

  test('a group for each message, as some recorders write them, is put together by time', () => {
    const file = new MadeFile();
    const count = 40;
    file.header('DG 0', START);
    for (let k = 0; k < count; k++) {
      file.dataGroup(`DG ${k}`, k + 1 < count ? `DG ${k + 1}` : 0, `CG ${k}`, `DT ${k}`);
      file.channelGroup(`CG ${k}`, `${k} t`, { cycles: 3, bytes: 32 });
      frameChannels(file, `${k}`);
      const records = [0, 1, 2].map((n) => longRecord(n * count + ((k * 7) % count), { id: k }));
      file.data(`DT ${k}`, bytesOf(...records));
    }
    const { capture, notes } = readBytes(mdf4, file.bytes());
    expect([...capture.time]).toEqual(Array.from({ length: 3 * count }, (_, t) => t));
    expect([...capture.id].every((id, t) => (id * 7) % count === t % count)).toBe(true);
    expect(notes).toEqual([]);
  });

  test('without BusChannel each source is a bus, with its name', () => {
    const file = new MadeFile();
    file.header('DG 1', START);
    for (const k of [1, 2]) {
      file.dataGroup(`DG ${k}`, k === 1 ? 'DG 2' : 0, `CG ${k}`, `DT ${k}`);
      file.source(`SI ${k}`, ['body', 'drive'][k - 1] as string);
      file.channelGroup(`CG ${k}`, `${k} t`, { cycles: 1, bytes: 32, source: `SI ${k}` });
      const { BusChannel: _, ...places } = SHORT;
      frameChannels(file, `${k}`, { places });
      file.data(`DT ${k}`, longRecord(k, { id: k, bus: 9 }));
    }
    const { capture } = readBytes(mdf4, file.bytes());
    expect([...capture.bus]).toEqual([0, 1]);
    expect([...(capture.busNames ?? [])]).toEqual([
      [0, 'body'],
      [1, 'drive'],
    ]);
  });

  test('a file with measured channels only is refused in one sentence', () => {
    const file = new MadeFile();
    file.header('DG', START);
    file.dataGroup('DG', 0, 'CG', 'DT');
    file.channelGroup('CG', 't', { cycles: 1, bytes: 16, flags: 0 });
    file.channel('t', { words: 't', type: 2, sync: 1, dataType: 4, bits: 64, next: 'speed' });
    file.channel('speed', { words: 'Speed', dataType: 4, byte: 8, bits: 64 });
    file.data('DT', bytesOf(['f', 0], ['f', 12.5]));
    expect(() => readBytes(mdf4, file.bytes())).toThrow(
      'The MDF file holds measured channels only (t, Speed) and no bus events; right would be CAN_DataFrame groups, as a bus logger writes them.',
    );
  });

  test('a conversion of the time that is not linear is named, and the group passed over', () => {
    const file = sorted([longRecord(1, { id: 1 })], { more: { time: { conversion: 'odd' } } });
    file.block(
      'odd',
      'CC',
      [0, 0, 0, 0],
      bytesOf([1, 2], [1, 0], [2, 0], [2, 0], [2, 6], new Uint8Array(64)),
    );
    expect(() => readBytes(mdf4, file.bytes())).toThrow(
      `The time channel of the CAN_DataFrame group at byte ${file.at('CG')} has a conversion that is neither none nor linear; no frame could be read.`,
    );
  });
});

describe('unsorted groups', () => {
  const ids = { 1: [1, 200], 2: [1, 0xabcd], 4: [7, 0xdead_beef], 8: [0x1_0000_0001, 2] } as const;

  test.each([1, 2, 4, 8] as const)(
    'record ids of %i bytes tell data from remote frames, in written order',
    (size) => {
      const [data, remote] = ids[size];
      const file = new MadeFile();
      file.header('DG', START);
      file.dataGroup('DG', 0, 'CG 1', 'DT', size);
      file.channelGroup('CG 1', 'a t', { next: 'CG 2', recordId: data, cycles: 2, bytes: 32 });
      file.channelGroup('CG 2', 'b t', { recordId: remote, cycles: 1, bytes: 24 });
      frameChannels(file, 'a');
      frameChannels(file, 'b', { parent: 'CAN_RemoteFrame', data: null });
      file.data(
        'DT',
        bytesOf(
          [size, data],
          longRecord(2, { id: 1, data: [1] }),
          [size, remote],
          longRecord(1, { id: 2, dlc: 3, room: 0 }),
          [size, data],
          longRecord(3, { id: 3, data: [3] }),
        ),
      );
      const { capture, notes, guess } = readBytes(mdf4, file.bytes());
      expect(framesOf(capture).map((f) => [f.id, f.flags, f.length])).toEqual([
        [1, 0, 1],
        [2, FLAG.remote, 3],
        [3, 0, 1],
      ]);
      expect(notes).toEqual(['Time goes backwards once, first at frame 1; frames stay in recorded order.']);
      expect(guess).toBe('MDF 4.10, CAN data and remote frames, unsorted');
    },
  );

  test('payloads of variable length stand in a group of their own, before or behind their records', () => {
    const file = new MadeFile();
    file.header('DG', START);
    file.dataGroup('DG', 0, 'CG 1', 'DT', 1);
    file.channelGroup('CG 1', 'a t', { next: 'CG 2', recordId: 1, cycles: 2, bytes: 32 });
    file.channelGroup('CG 2', 0, { recordId: 2, cycles: 2, flags: 1 });
    frameChannels(file, 'a', { data: { byte: 24, bits: 64, type: 1, link: 'CG 2' } });
    const record = (t: number, id: number, offset: number, length: number) => {
      const out = longRecord(t, { id, data: Array(length).fill(0) });
      out.set(bytesOf([8, offset]), 24);
      return out;
    };
    file.data(
      'DT',
      bytesOf(
        [1, 2],
        [4, 3],
        Uint8Array.of(1, 2, 3),
        [1, 1],
        record(0, 10, 0, 3),
        [1, 1],
        record(1, 11, 7, 2),
        [1, 2],
        [4, 2],
        Uint8Array.of(4, 5),
      ),
    );
    expect(framesOf(readBytes(mdf4, file.bytes()).capture).map((f) => [f.id, f.data])).toEqual([
      [10, [1, 2, 3]],
      [11, [4, 5]],
    ]);
  });

  test('a long recording is read whole, wherever runs of records and values end', () => {
    const file = new MadeFile();
    file.header('DG', START);
    file.dataGroup('DG', 0, 'CG 1', 'DT', 2);
    file.channelGroup('CG 1', 'a t', { next: 'CG 2', recordId: 0x101, bytes: 32 });
    file.channelGroup('CG 2', 0, { next: 'CG 3', recordId: 0x102, flags: 1 });
    file.channelGroup('CG 3', 'b t', { recordId: 0x201, bytes: 32 });
    frameChannels(file, 'a', { data: { byte: 24, bits: 64, type: 1, link: 'CG 2' } });
    frameChannels(file, 'b');
    const parts: Uint8Array[] = [];
    const expected: [number, number[]][] = [];
    for (let n = 0, offset = 0; n < 6000; n++) {
      const data = Array.from({ length: n % 9 }, (_, k) => (n + k) & 255);
      expected.push([n & 0x7ff, data]);
      const record = longRecord(n, { id: n & 0x7ff, data });
      if (n % 40 < 25) parts.push(Uint8Array.of(1, 2), record);
      else {
        record.set(bytesOf([8, offset]), 24);
        parts.push(Uint8Array.of(1, 1), record, Uint8Array.of(2, 1, data.length, 0, 0, 0, ...data));
        offset += 4 + data.length;
      }
    }
    file.data('DT', Buffer.concat(parts));
    const { capture, notes } = readBytes(mdf4, file.bytes(), [50_001]);
    expect(framesOf(capture).map((f) => [f.id, f.data])).toEqual(expected);
    expect(notes).toEqual([]);
  });

  test('a record id that no group describes ends the reading there', () => {
    const file = new MadeFile();
    file.header('DG', START);
    file.dataGroup('DG', 0, 'CG', 'DT', 1);
    file.channelGroup('CG', 'a t', { recordId: 1, bytes: 32 });
    frameChannels(file, 'a');
    file.data('DT', bytesOf([1, 1], longRecord(0, { id: 1 }), [1, 9], longRecord(0, { id: 1 })));
    const { capture, notes } = readBytes(mdf4, file.bytes());
    expect(capture.count).toBe(1);
    expect(notes).toEqual([
      `The data of the DG block at byte ${file.at('DG')} has a record of id 9 at its byte 33, which no group describes; the one frame that could be read is kept.`,
    ]);
  });
});

describe('data blocks', () => {
  const records = Array.from({ length: 9 }, (_, n) =>
    longRecord(n / 8, { id: 0x100 + n, data: [n, n * 2, n * 3, 7, 7, 7, 7, 255 - n] }),
  );
  const all = bytesOf(...records);
  const expected = framesOf(readBytes(mdf4, sorted(records).bytes()).capture);

  /** The same records behind `data`, whose blocks `add` makes. */
  function listed(data: Link, add: (file: MadeFile) => void): Uint8Array {
    const file = new MadeFile();
    file.header('DG', START);
    file.dataGroup('DG', 0, 'CG', data);
    file.channelGroup('CG', 'a t', { cycles: 9, bytes: 32 });
    frameChannels(file, 'a');
    add(file);
    return file.bytes();
  }

  /** Rows to columns, cell by cell: byte c of row r goes to c × rows + r. */
  function columns(bytes: Uint8Array, row: number): Uint8Array {
    const rows = Math.floor(bytes.length / row);
    const out = bytes.slice();
    for (let r = 0; r < rows; r++)
      for (let c = 0; c < row; c++) out[c * rows + r] = bytes[r * row + c] as number;
    return out;
  }

  test('lists of DT blocks are one stream, wherever a record is cut', () => {
    const bytes = listed('DL 1', (file) => {
      file.list('DL 2', 0, ['DT 3']);
      file.data('DT 3', all.subarray(100));
      file.list('DL 1', 'DL 2', ['DT 1', 'DT 2']);
      file.data('DT 2', all.subarray(45, 100));
      file.data('DT 1', all.subarray(0, 45));
    });
    const { capture, notes } = readBytes(mdf4, bytes);
    expect(framesOf(capture)).toEqual(expected);
    expect(notes).toEqual([]);
  });

  test.each([
    [0, 0],
    [1, 32],
    [1, 7],
  ])('packed blocks (way %i, rows of %i bytes) behind HL and DL are unpacked', (zip, row) => {
    const pack = (part: Uint8Array) => deflateSync(zip ? columns(part, row) : part);
    const bytes = listed('HL', (file) => {
      file.block('HL', 'HL', ['DL'], bytesOf([2, 0], [1, zip], [1, 0], [4, 0]));
      file.list('DL', 0, ['DZ 1', 'DT', 'DZ 2']);
      file.packed('DZ 1', pack(all.subarray(0, 70)), 70, zip, row);
      file.data('DT', all.subarray(70, 90));
      file.packed('DZ 2', pack(all.subarray(90)), all.length - 90, zip, row);
    });
    const { capture, notes, guess } = readBytes(mdf4, bytes);
    expect(framesOf(capture)).toEqual(expected);
    expect([notes, guess]).toEqual([[], 'MDF 4.10, CAN data frames, sorted, packed']);
  });

  test('payloads of variable length stand in SD blocks, plain, listed or packed', () => {
    const values = bytesOf(...expected.map((f) => bytesOf([4, f.data.length], Uint8Array.from(f.data))));
    const withOffsets = bytesOf(...records.map((r, n) => bytesOf(r.subarray(0, 24), [8, 12 * n])));
    const made = (add: (file: MadeFile) => void) => {
      const file = new MadeFile();
      file.header('DG', START);
      file.dataGroup('DG', 0, 'CG', 'DT');
      file.channelGroup('CG', 'a t', { cycles: 9, bytes: 32 });
      frameChannels(file, 'a', { data: { byte: 24, bits: 64, type: 1, link: 'values' } });
      file.data('DT', withOffsets);
      add(file);
      return framesOf(readBytes(mdf4, file.bytes()).capture);
    };
    expect(made((file) => file.data('values', values, 'SD'))).toEqual(expected);
    expect(
      made((file) => {
        file.list('values', 0, ['SD 1', 'SD 2']);
        file.data('SD 1', values.subarray(0, 30), 'SD');
        file.packed('SD 2', deflateSync(values.subarray(30)), values.length - 30, 0, 0, 'SD');
      }),
    ).toEqual(expected);
    // The last value is missing: its frame is skipped, the others are there.
    expect(made((file) => file.data('values', values.subarray(0, -1), 'SD'))).toEqual(expected.slice(0, -1));
  });

  test('a packed block that is damaged keeps what stands before it', () => {
    const damaged = deflateSync(all.subarray(64));
    damaged[damaged.length >> 1] = (damaged[damaged.length >> 1] as number) ^ 0xff;
    damaged.fill(0xff, 4, 9);
    const bytes = listed('DL', (file) => {
      file.list('DL', 0, ['DT', 'DZ']);
      file.data('DT', all.subarray(0, 64));
      file.packed('DZ', damaged, all.length - 64);
    });
    const { capture, notes } = readBytes(mdf4, bytes);
    expect(framesOf(capture)).toEqual(expected.slice(0, 2));
    expect(notes.join(' ')).toMatch(
      /The DZ block at byte \d+ does not unpack: its data is damaged\. The group of data frames at byte \d+ counts 9 records, of which 2 are there; 2 frames are kept\./,
    );
  });

  test('nothing is read behind a packed block that is missing: records would no longer begin where they do', () => {
    const bytes = listed('DL', (file) => {
      file.list('DL', 0, ['DT 1', 'DZ', 'DT 2']);
      file.data('DT 1', all.subarray(0, 64));
      file.packed('DZ', Uint8Array.of(1, 2, 3), 40);
      file.data('DT 2', all.subarray(104));
    });
    expect(framesOf(readBytes(mdf4, bytes).capture)).toEqual(expected.slice(0, 2));
  });

  test('a packed block that unpacks to more than it claims, or claims what none has, is refused', () => {
    for (const [size, words] of [
      [63, 'does not unpack'],
      [2 ** 40, 'unpack to 1099511627776, which no such block has'],
    ] as const) {
      const bytes = listed('DZ', (file) => file.packed('DZ', deflateSync(all), size));
      expect(() => readBytes(mdf4, bytes)).toThrow(words);
    }
  });
});

describe('files that are damaged, unfinished or no MDF 4', () => {
  const good = () => sorted([longRecord(0, { id: 1, data: [1] }), longRecord(1, { id: 2, data: [2] })]);

  test('a file that its recorder did not finish is read to its end', () => {
    const file = new MadeFile();
    file.header('DG', START);
    file.dataGroup('DG', 0, 'CG', 'DT');
    file.channelGroup('CG', 'a t', { cycles: 0, bytes: 32 });
    frameChannels(file, 'a');
    file.data(
      'DT',
      bytesOf(longRecord(0, { id: 1 }), longRecord(1, { id: 2 }), Uint8Array.of(1, 2, 3, 4, 5, 6, 7, 8)),
      'DT',
      {
        claims: 24,
      },
    );
    const { capture, notes } = readBytes(mdf4, file.bytes({ magic: 'UnFinMF ', unfinished: 5 }));
    expect([...capture.id]).toEqual([1, 2]);
    expect(notes).toEqual([
      'The recorder did not finish this file (UnFinMF): it was read as far as it goes.',
    ]);
  });

  test('the count of a file that was not finished is not believed', () => {
    const file = sorted([longRecord(0, { id: 1 }), longRecord(1, { id: 2 })], { cycles: 1 });
    expect([...readBytes(mdf4, file.bytes({ magic: 'UnFinMF ', unfinished: 1 })).capture.id]).toEqual([1, 2]);
    expect([...readBytes(mdf4, file.bytes()).capture.id]).toEqual([1]);
  });

  test('cut anywhere, a file gives the frames before the cut or one sentence', () => {
    const file = good();
    const bytes = file.bytes();
    for (let end = 0; end < bytes.length; end += end < 200 || end > bytes.length - 90 ? 1 : 7) {
      try {
        const { capture, notes } = readBytes(mdf4, bytes.subarray(0, end));
        expect(end).toBeGreaterThanOrEqual(file.at('DT') + 24 + 32);
        expect([...capture.id]).toEqual([1]);
        expect(notes.join(' ')).toMatch(
          /of which the file has \d+\. .*; the one frame that could be read is kept\.$/,
        );
      } catch (error) {
        expect(error).toBeInstanceOf(CaptureError);
        expect(end).toBeLessThan(file.at('DT') + 24 + 32);
        expect((error as Error).message).toMatch(/^[A-Z][^\n]*\.$/);
      }
    }
  });

  test('chains that come back to themselves end there', () => {
    const loops: [string, (file: MadeFile) => void][] = [
      [
        'DG',
        (file) => {
          file.dataGroup('DG', 'DG', 'CG', 'DT');
          file.channelGroup('CG', 'a t', { bytes: 32 });
        },
      ],
      [
        'CG',
        (file) => {
          file.dataGroup('DG', 0, 'CG', 'DT');
          file.channelGroup('CG', 'a t', { next: 'CG', bytes: 32 });
        },
      ],
    ];
    for (const [id, add] of loops) {
      const file = new MadeFile();
      file.header('DG', START);
      add(file);
      frameChannels(file, 'a');
      file.data('DT', longRecord(0, { id: 1 }));
      const { capture, notes } = readBytes(mdf4, file.bytes());
      expect(capture.count).toBe(1);
      expect(notes[0]).toBe(
        `The ${id} block at byte ${file.at(id)} is linked twice; the one frame that could be read is kept.`,
      );
    }
  });

  test('channels that contain themselves and lists that list themselves end there', () => {
    const file = new MadeFile();
    file.header('DG', START);
    file.dataGroup('DG', 0, 'CG', 'DL');
    file.channelGroup('CG', 'a t', { bytes: 32 });
    frameChannels(file, 'a');
    file.channel('own', { words: 'own', parts: 'own', next: 'own' });
    file.list('DL', 'DL', ['DT', 'DT']);
    file.data('DT', longRecord(0, { id: 1 }));
    const bytes = file.bytes();
    // The composition of the time channel leads to the channel that contains itself.
    new DataView(bytes.buffer).setBigUint64(file.at('a t') + 32, BigInt(file.at('own')), true);
    const { capture, notes } = readBytes(mdf4, bytes);
    expect(capture.count).toBe(1);
    expect(notes[0]).toBe(`The CN block at byte ${file.at('own')} is linked twice.`);
    expect(notes[1]).toMatch(new RegExp(`^The DT block at byte ${file.at('DT')} is linked twice;`));
  });

  test('links outside the file and to blocks of another kind are named', () => {
    const outside = good().bytes();
    new DataView(outside.buffer).setBigUint64(64 + 24, 0x7fff_ffff_ffffn, true);
    expect(() => readBytes(mdf4, outside)).toThrow(
      `The HD block links a DG block at byte 140737488355327, outside the ${outside.length} bytes of the file; no frame could be read.`,
    );
    const huge = good().bytes();
    new DataView(huge.buffer).setBigUint64(64 + 24, 0xffff_ffff_ffff_fff8n, true);
    expect(() => readBytes(mdf4, huge)).toThrow('at a position beyond 2^53, outside the');
    const file = good();
    const wrong = file.bytes();
    new DataView(wrong.buffer).setBigUint64(64 + 24, BigInt(file.at('CG')), true);
    expect(() => readBytes(mdf4, wrong)).toThrow(
      `The HD block links byte ${file.at('CG')}, where no DG block stands; no frame could be read.`,
    );
  });

  test('absurd lengths and numbers of links are refused', () => {
    for (const [at, value] of [
      [8, 0n],
      [8, 0xffff_ffff_ffff_ffffn],
      [16, 0xffff_ffff_ffff_ffffn],
      [16, 1n << 40n],
      [16, 0n],
    ] as const) {
      const file = good();
      const bytes = file.bytes();
      new DataView(bytes.buffer).setBigUint64(file.at('CG') + at, value, true);
      // A block that claims more than there is may still be whole in what it must have.
      if (at === 8 && value !== 0n) expect(readBytes(mdf4, bytes).capture.count).toBe(2);
      else
        expect(() => readBytes(mdf4, bytes)).toThrow(
          /^The CG block at byte \d+ claims [\dInfity]+ bytes and [\dInfity]+ links, too few; no frame/,
        );
    }
  });

  test('channels outside their records are as good as absent', () => {
    const file = sorted([longRecord(0, { id: 1 })], { size: 20 });
    expect(() => readBytes(mdf4, file.bytes())).toThrow(
      `The CAN_DataFrame group at byte ${file.at('CG')} has no DataBytes channel that lies within its records of 20 bytes; no frame could be read.`,
    );
  });

  test('an identifier outside the record is as good as absent', () => {
    const file = sorted([longRecord(0, { id: 1 })], { more: { places: { ...SHORT, ID: [30, 0, 29] } } });
    expect(() => readBytes(mdf4, file.bytes())).toThrow(
      `The CAN_DataFrame group at byte ${file.at('CG')} has no ID channel that lies within its records of 32 bytes; no frame could be read.`,
    );
  });

  test('a group that claims records of 4 GiB is passed over, and no room is made for them', () => {
    const file = sorted([longRecord(0, { id: 1 })], { size: 0xffff_ffff });
    expect(() => readBytes(mdf4, file.bytes())).toThrow(
      `The CAN_DataFrame group at byte ${file.at('CG')} claims records of 4294967295 bytes, which no frame has; no frame could be read.`,
    );
  });

  test('other magic, older versions and cut identifications are told apart', () => {
    expect(() => readBytes(mdf4, bytesOf('RIFF    ', new Uint8Array(60)))).toThrow(
      'This is not MDF: it starts with 52 49 46 46 20 20 20 20 at byte 0; right would be 4D 44 46 20 20 20 20 20 ("MDF     ").',
    );
    expect(() => readBytes(mdf4, good().bytes({ version: 330 }))).toThrow(
      'This is MDF of version 3.30; right would be 4.00 or a later 4.x',
    );
    expect(() => readBytes(mdf4, good().bytes().subarray(0, 63))).toThrow(
      'The MDF identification is cut short: it has 64 bytes and the recording ends after 63.',
    );
    expect(readBytes(mdf4, good().bytes({ version: 420 })).capture.count).toBe(2);
  });

  test('fewer records than the group counts are told', () => {
    const { notes } = readBytes(mdf4, sorted([longRecord(0, { id: 1 })], { cycles: 5 }).bytes());
    expect(notes[0]).toMatch(
      /counts 5 records, of which 1 are there; the one frame that could be read is kept\.$/,
    );
  });
});

describe('writing', () => {
  const many: Frame[] = Array.from({ length: 40_000 }, (_, n) =>
    frame(START + BigInt(n) * 1_000_003n, 0x100 + (n % 50), [n & 255, n >> 8, 1, 2, 3, 4, 5, 6], {
      bus: n % 3,
      flags: n % 1000 === 999 ? FLAG.error : n % 7 === 0 ? FLAG.extended | FLAG.sent : 0,
    }),
  );

  test.each(PACKINGS)('packed as "%s", a long capture is read back in every part', (packing) => {
    const capture = {
      ...captureOf(many),
      busNames: new Map([
        [0, 'drive'],
        [2, 'body & <co>'],
      ]),
    };
    const bytes = packedAs(capture, packing);
    const read = readBytes(mdf4, bytes, [bytes.length]);
    expect(differences(read.capture, capture)).toEqual([]);
    expect(read.capture.busNames).toEqual(capture.busNames);
    expect(read.notes).toEqual([]);
    if (packing !== 'none') expect(bytes.length).toBeLessThan(24 * many.length * 0.6);
  });

  test('packing keeps every field of random frames', () => {
    fc.assert(
      fc.property(
        framesArbitrary('many'),
        fc.constantFrom(...PACKINGS),
        fc.array(fc.boolean()),
        (frames, packing, sent) => {
          const own = frames.map((f, i) => (sent[i] ? { ...f, flags: f.flags | FLAG.sent } : f));
          expect(framesOf(readBytes(mdf4, packedAs(captureOf(own), packing)).capture)).toEqual(own);
        },
      ),
      { seed, numRuns: 100 },
    );
  });

  test('the order of frames at one time is kept, and its channel is written only where it is needed', () => {
    const at = (n: number, flags: number) =>
      frame(START + BigInt(n), 1, flags & FLAG.remote ? [] : Array(8).fill(n), { flags, length: 8 });
    const has = (frames: Frame[]) =>
      Buffer.from(packedAs(captureOf(frames), 'none')).includes('RecordedOrder');
    const rising = [at(1, 0), at(2, FLAG.error), at(3, FLAG.remote), at(3, FLAG.error), at(4, 0)];
    const tied = [at(1, 0), at(2, FLAG.error), at(2, 0), at(2, FLAG.remote)];
    const back = [at(5, 0), at(2, FLAG.error), at(9, 0), at(1, 0)];
    expect([has(rising), has(tied), has(back)]).toEqual([false, true, true]);
    for (const frames of [rising, tied, back]) {
      expect(framesOf(readBytes(mdf4, packedAs(captureOf(frames), 'none')).capture)).toEqual(frames);
    }
    const single = [at(5, 0), at(2, 0), at(9, 0)];
    expect(has(single)).toBe(false);
    expect(framesOf(readBytes(mdf4, packedAs(captureOf(single), 'none')).capture)).toEqual(single);
  });

  test('error messages keep the identifier word and their payload, whatever else they say', () => {
    const data = [1, 2, 3, 4, 5, 6, 7, 8];
    const frames = [
      frame(START, 0x1fff_ffff, data, { flags: FLAG.error }),
      frame(START, 0x123, [], { flags: FLAG.error | FLAG.remote, length: 8 }),
      frame(START, 0x0c, data, { flags: FLAG.error | FLAG.extended | FLAG.sent }),
      frame(START, 0x0c, Array(64).fill(3), { flags: FLAG.error | FLAG.fd }),
    ];
    for (const packing of PACKINGS) {
      expect(framesOf(readBytes(mdf4, packedAs(captureOf(frames), packing)).capture)).toEqual(frames);
    }
  });

  test('times before 1970 are held relative to 1970', () => {
    const capture = { ...captureOf([frame(0, 1, []), frame(1_000, 2, [])]), originNs: -2_000_000_000n };
    const read = readBytes(mdf4, packedAs(capture, 'none')).capture;
    expect([read.originNs, ...read.time]).toEqual([0n, -2, -1.999999]);
  });

  test.each(PACKINGS)(
    'packed as "%s" and cut anywhere, what is kept are frames of the recording in their order',
    (packing) => {
      const frames = many.slice(0, 300);
      const bytes = packedAs(captureOf(frames), packing);
      const kinds = new Map<string, number>();
      for (let end = 0; end < bytes.length; end += 97) {
        const outcome = (() => {
          try {
            const got = framesOf(readBytes(mdf4, bytes.subarray(0, end)).capture);
            expect(got).toEqual(frames.slice(0, got.length));
            return 'frames';
          } catch (error) {
            if (!(error instanceof CaptureError)) throw error;
            return 'sentence';
          }
        })();
        kinds.set(outcome, (kinds.get(outcome) ?? 0) + 1);
      }
      expect(kinds.get('sentence')).toBeGreaterThan(10);
      // One transposed block is whole or nothing.
      if (packing !== 'transposed') expect(kinds.get('frames')).toBeGreaterThan(10);
    },
  );

  test('links, lengths and data changed at random end in frames within range or one sentence', () => {
    const unsorted = new MadeFile();
    unsorted.header('DG', START);
    unsorted.dataGroup('DG', 0, 'CG 1', 'DT', 1);
    unsorted.channelGroup('CG 1', 'a t', { next: 'CG 2', recordId: 1, cycles: 9, bytes: 32 });
    unsorted.channelGroup('CG 2', 0, { recordId: 2, cycles: 9, flags: 1 });
    frameChannels(unsorted, 'a', { data: { byte: 24, bits: 64, type: 1, link: 'CG 2' } });
    const both = Array.from({ length: 9 }, (_, n) => [
      bytesOf([1, 1], longRecord(n, { id: n, data: [1, 2] }).subarray(0, 24), [8, 6 * n]),
      bytesOf([1, 2], [4, 2], Uint8Array.of(n, n)),
    ]);
    unsorted.data('DT', bytesOf(...both.flat()));
    const files = [unsorted.bytes(), ...PACKINGS.map((p) => packedAs(captureOf(many.slice(990, 1010)), p))];
    const outcomes = { frames: 0, sentence: 0 };
    const wide = fc.constantFrom(0n, 1n, 24n, 64n, 0xffn, 0xffff_ffffn, 1n << 40n, (1n << 64n) - 1n);
    fc.assert(
      fc.property(
        fc.constantFrom(...files),
        fc.array(fc.tuple(share, fc.oneof(wide, fc.bigInt(0n, 4000n))), {
          minLength: 1,
          maxLength: 4,
        }),
        (file, changes) => {
          const bytes = file.slice();
          const view = new DataView(bytes.buffer);
          for (const [where, value] of changes) {
            // On the 8-byte grid, where links, lengths and counts stand.
            view.setBigUint64(Math.floor((where * (bytes.length - 8)) / 8) * 8, value, true);
          }
          try {
            const { capture, notes } = readBytes(mdf4, bytes);
            expect(outOfRange(capture)).toBeNull();
            for (const note of notes) expect(note).toMatch(/^[A-Z][^\n]*\.$/);
            outcomes.frames++;
          } catch (error) {
            if (!(error instanceof CaptureError)) throw error;
            expect(error.message).toMatch(/^[A-Z][^\n]*\.$/);
            outcomes.sentence++;
          }
        },
      ),
      { seed, numRuns: 800 },
    );
    expect(outcomes.frames).toBeGreaterThan(100);
    expect(outcomes.sentence).toBeGreaterThan(100);
  });
});
