/**
 * The bytes of a written MDF 4 file against the published figures of its blocks, each with its source beside it.
 * BLK = the block sources of the open library mdflib (src/*4block.cpp), ADP = its canconfigadapter.cpp, which holds the
 * channel names of CAN bus logging and a usual layout for them. No independent program has read these files: none was at hand.
 */
import { inflateSync } from 'node:zlib';
import { describe, expect, test } from 'vitest';
import { FLAG } from '../../src/can/frame.ts';
import { mdf4 } from '../../src/capture/formats/mdf4.ts';
import { writeMdf } from '../../src/capture/mdf/write.ts';
import { captureOf, frame, framesOf, readBytes, written } from '../capture/frames.ts';
import { bytesOf } from '../capture/mdf/handmade.ts';

const START = 1_700_000_000_000_000_000n;
const FRAMES = [
  frame(START, 0x123, [1, 2, 3], { bus: 2 }),
  frame(START + 500_000_000n, 0x18fe_f121, [9, 8, 7, 6, 5, 4, 3, 2], {
    flags: FLAG.extended | FLAG.sent,
    bus: 1,
  }),
  frame(START + 600_000_000n, 0x7ff, Array(12).fill(5), {
    flags: FLAG.fd | FLAG.bitRateSwitch | FLAG.errorState,
  }),
  frame(START + 700_000_000n, 0x321, [], { flags: FLAG.remote, length: 4 }),
  frame(START + 800_000_000n, 0x08, [0, 0, 4, 0, 0, 0, 0, 0], { flags: FLAG.error }),
];
const file = written(mdf4, captureOf(FRAMES));
const view = new DataView(file.buffer);

/** A block as it stands in a file: read here by the figures alone. */
function block(at: number, from: Uint8Array = file) {
  const v = new DataView(from.buffer, from.byteOffset);
  const length = Number(v.getBigUint64(at + 8, true));
  const count = Number(v.getBigUint64(at + 16, true));
  return {
    id: String.fromCharCode(...from.subarray(at, at + 4)),
    reserved: v.getUint32(at + 4, true),
    length,
    links: Array.from({ length: count }, (_, k) => Number(v.getBigUint64(at + 24 + 8 * k, true))),
    data: at + 24 + 8 * count,
  };
}

function chain(first: number): number[] {
  const all: number[] = [];
  for (let at = first; at !== 0; at = block(at).links[0] as number) all.push(at);
  return all;
}

function text(at: number): string {
  const { id, data, length, links } = block(at);
  expect([id, links]).toEqual(['##TX', []]);
  const bytes = file.subarray(data, at + length);
  expect(bytes.includes(0)).toBe(true);
  return new TextDecoder().decode(bytes.subarray(0, bytes.indexOf(0)));
}

interface Read {
  type: number;
  sync: number;
  dataType: number;
  bit: number;
  byte: number;
  bits: number;
  flags: number;
  at: number;
}

/** The channels of a CN chain by name. BLK: type, sync, data type, bit u8; byte, bits, flags u32. */
function channels(first: number): Record<string, Read> {
  return Object.fromEntries(
    chain(first).map((at) => {
      const { id, links, data, length } = block(at);
      // BLK, CN: 8 links, 160 bytes.
      expect([id, links.length, length]).toEqual(['##CN', 8, 160]);
      return [
        text(links[2] as number),
        {
          type: view.getUint8(data),
          sync: view.getUint8(data + 1),
          dataType: view.getUint8(data + 2),
          bit: view.getUint8(data + 3),
          byte: view.getUint32(data + 4, true),
          bits: view.getUint32(data + 8, true),
          flags: view.getUint32(data + 12, true),
          at,
        },
      ];
    }),
  );
}

const groups = chain(block(64).links[0] as number);
const groupOf = (parent: string, which = 0) => {
  const found = groups.filter((dg) => {
    const first = block(block(dg).links[1] as number).links[1] as number;
    return parent in channels(first);
  });
  return found[which] as number;
};

test('the identification is "MDF     ", "4.10    ", a program of 8 characters and 410 at byte 28', () => {
  // BLK, ID: 64 bytes, file 8, version 8, program 8, 4 reserved, version number u16 at 28, unfinalised flags at 60, custom at 62.
  expect(String.fromCharCode(...file.subarray(0, 24))).toBe('MDF     4.10    Bywright');
  expect([view.getUint32(24, true), view.getUint16(28, true)]).toEqual([0, 410]);
  expect([...file.subarray(30, 64)]).toEqual(Array(34).fill(0));
});

describe('blocks', () => {
  test('the header at 64 has six links, 104 bytes and the start in nanoseconds', () => {
    const { id, links, length, data, reserved } = block(64);
    // BLK, HD: links first DG, first FH, CH, AT, EV, comment; 104 bytes in all; start ns u64, then zone i16, daylight i16, flags.
    expect([id, reserved, links.length, length]).toEqual(['##HD', 0, 6, 104]);
    expect(links.slice(2)).toEqual([0, 0, 0, 0]);
    expect(view.getBigUint64(data, true)).toBe(START);
    // BLK, HD: time flag 0 is UTC.
    expect([view.getInt16(data + 8, true), view.getInt16(data + 10, true), view.getUint8(data + 12)]).toEqual(
      [0, 0, 0],
    );
    const history = block(links[1] as number);
    // BLK, FH: next and comment, 56 bytes; the comment is an MD block.
    expect([history.id, history.links.length, history.length]).toEqual(['##FH', 2, 56]);
    expect(block(history.links[1] as number).id).toBe('##MD');
  });

  test('each data group is sorted: no record id, one channel group of bus events', () => {
    expect(groups.length).toBe(4);
    for (const dg of groups) {
      const { id, links, length, data } = block(dg);
      // BLK, DG: next DG, first CG, data, comment; record id size u8; 64 bytes.
      expect([id, links.length, length, file[data]]).toEqual(['##DG', 4, 64, 0]);
      const cg = block(links[1] as number);
      // BLK, CG: next, first CN, name, source, first SR, comment; 104 bytes; flags 2 bus event and 4 plain bus event at 16.
      expect([cg.id, cg.links.length, cg.length, cg.links[0]]).toEqual(['##CG', 6, 104, 0]);
      expect(view.getUint16(cg.data + 16, true)).toBe(6);
      // ADP: '.' separates the parts of a path.
      expect(view.getUint16(cg.data + 18, true)).toBe('.'.charCodeAt(0));
      const source = block(cg.links[3] as number);
      // BLK, SI: name, path, comment; 56 bytes; type 2 bus, bus type 2 CAN.
      expect([source.id, source.links.length, source.length]).toEqual(['##SI', 3, 56]);
      expect([...file.subarray(source.data, source.data + 2)]).toEqual([2, 2]);
      const cycles = Number(view.getBigUint64(cg.data + 8, true));
      const bytes = view.getUint32(cg.data + 24, true);
      const records = block(links[2] as number);
      // BLK, DT: no links, 24 bytes and the records.
      expect([records.id, records.links, records.length]).toEqual(['##DT', [], 24 + cycles * bytes]);
    }
  });

  test('every block starts at a multiple of 8', () => {
    const seen: number[] = [];
    const visit = (at: number) => {
      if (at === 0 || seen.includes(at)) return;
      seen.push(at);
      for (const link of block(at).links) visit(link);
    };
    visit(64);
    expect(seen.filter((at) => at % 8 !== 0)).toEqual([]);
    expect(seen.length).toBeGreaterThan(80);
  });
});

describe('channels of CAN frames', () => {
  const cn = (dg: number) => channels(block(block(dg).links[1] as number).links[1] as number);
  const parts = (dg: number, parent: string) =>
    channels(block((cn(dg)[parent] as Read).at).links[1] as number);

  test('the time is the master, 64-bit floating point seconds', () => {
    for (const dg of groups) {
      // ADP: channel "t", type 2 master, sync 1 time; BLK: data type 4 floating point, little-endian.
      expect(cn(dg)['t']).toMatchObject({ type: 2, sync: 1, dataType: 4, byte: 0, bit: 0, bits: 64 });
      const unit = block((cn(dg)['t'] as Read).at).links[6] as number;
      expect(text(unit)).toBe('s');
    }
  });

  test.each([
    ['CAN_DataFrame', 0],
    ['CAN_DataFrame', 1],
    ['CAN_RemoteFrame', 0],
    ['CAN_ErrorFrame', 0],
  ])('%s (%i) has its parts where the usual layout has them', (parent, which) => {
    const dg = groupOf(parent, which);
    // BLK: data type 10 is a byte array; CN flag 0x400 a bus event.
    expect(cn(dg)[parent]).toMatchObject({ type: 0, dataType: 10, byte: 8, flags: 0x400 });
    const found = parts(dg, parent);
    // ADP: byte, bit, bits of each part.
    const usual: Record<string, [number, number, number]> = {
      BusChannel: [8, 0, 8],
      ID: [9, 0, 29],
      IDE: [12, 7, 1],
      DLC: [13, 0, 4],
      Dir: [13, 4, 1],
      EDL: [13, 6, 1],
      BRS: [13, 7, 1],
      DataLength: [14, 0, 8],
      ESI: [15, 0, 1],
    };
    for (const [name, [byte, bit, bits]] of Object.entries(usual)) {
      expect(found[`${parent}.${name}`]).toMatchObject({
        type: 0,
        dataType: 0,
        byte,
        bit,
        bits,
        flags: 0x400,
      });
    }
    if (parent === 'CAN_RemoteFrame') expect(found).not.toHaveProperty(`${parent}.DataBytes`);
    // BLK: channel type 5 is maximum length.
    else expect(found[`${parent}.DataBytes`]).toMatchObject({ type: 5, dataType: 10, bit: 0 });
    // ADP: ErrorType has 3 bits.
    if (parent === 'CAN_ErrorFrame') expect(found[`${parent}.ErrorType`]?.bits).toBe(3);
  });

  const record = (parent: string, which: number, n: number, size: number) => {
    const data = block(block(groupOf(parent, which)).links[2] as number).data;
    return [...file.subarray(data + n * size, data + (n + 1) * size)];
  };

  test('records hold the frames bit by bit', () => {
    // ADP: bus, ID with IDE in bit 31, DLC with Dir, EDL, BRS in bits 4, 6, 7, DataLength, ESI; Dir 1 = sent.
    expect(record('CAN_DataFrame', 0, 0, 24)).toEqual([
      ...bytesOf(['f', 0]),
      2,
      0x23,
      0x01,
      0,
      0,
      3,
      3,
      0,
      1,
      2,
      3,
      0,
      0,
      0,
      0,
      0,
    ]);
    expect(record('CAN_DataFrame', 0, 1, 24)).toEqual([
      ...bytesOf(['f', 0.5]),
      1,
      0x21,
      0xf1,
      0xfe,
      0x98,
      0x18,
      8,
      0,
      9,
      8,
      7,
      6,
      5,
      4,
      3,
      2,
    ]);
    // ISO 11898-1: the code of 12 bytes is 9.
    expect(record('CAN_DataFrame', 1, 0, 80)).toEqual([
      ...bytesOf(['f', 0.6]),
      0,
      0xff,
      0x07,
      0,
      0,
      0xc9,
      12,
      1,
      ...Array(12).fill(5),
      ...Array(52).fill(0),
    ]);
    expect(record('CAN_RemoteFrame', 0, 0, 16)).toEqual([
      ...bytesOf(['f', 0.7]),
      0,
      0x21,
      0x03,
      0,
      0,
      4,
      4,
      0,
    ]);
    // ADP: ErrorType 3 is a stuff error; linux/can/error.h, from memory: class 0x08 with 0x04 in byte 2 is one.
    expect(record('CAN_ErrorFrame', 0, 0, 32)).toEqual([
      ...bytesOf(['f', 0.8]),
      0,
      0,
      0,
      0,
      0,
      8,
      8,
      0,
      8,
      0,
      0,
      0,
      3,
      0,
      0,
      0,
      0,
      0,
      4,
      0,
      0,
      0,
      0,
      0,
    ]);
  });

  test('bus names are texts of the values of BusChannel', () => {
    const named = bytesOf(
      ...writeMdf({ ...captureOf(FRAMES.slice(0, 2)), busNames: new Map([[2, 'body']]) }),
    );
    const at = Buffer.from(named).indexOf('##CC');
    const { links, data, length } = block(at, named);
    const v = new DataView(named.buffer);
    // BLK, CC: name, unit, comment, inverse, refs; type, precision u8; flags, ref count, value count u16; 2 f64; type 7 value to text.
    expect([links.length, length]).toEqual([6, 24 + 6 * 8 + 24 + 8]);
    expect([named[data], v.getUint16(data + 4, true), v.getUint16(data + 6, true)]).toEqual([7, 2, 1]);
    expect(v.getFloat64(data + 24, true)).toBe(2);
    expect([...(readBytes(mdf4, named).capture.busNames ?? [])]).toEqual([[2, 'body']]);
  });
});

describe('packed data', () => {
  test.each([
    ['deflate', 0],
    ['transposed', 1],
  ] as const)('%s: HL, DL and DZ hold the records as the figures say', (packing, zip) => {
    const plain = FRAMES.slice(0, 2);
    const packed = bytesOf(...writeMdf(captureOf(plain), { packing }));
    const v = new DataView(packed.buffer);
    const dg = block(block(64, packed).links[0] as number, packed);
    const hl = block(dg.links[2] as number, packed);
    // BLK, HL: first DL; flags u16, zip u8; 40 bytes.
    expect([hl.id, hl.links.length, hl.length, packed[hl.data + 2]]).toEqual(['##HL', 1, 40, zip]);
    const dl = block(hl.links[0] as number, packed);
    // BLK, DL: next DL, blocks; flags u8 (1 equal length), count u32 at 4, equal length u64 at 8; 40 bytes + 8 a link.
    expect([dl.id, dl.length, dl.links[0]]).toEqual(['##DL', 40 + 8 * 2, 0]);
    expect([packed[dl.data], v.getUint32(dl.data + 4, true)]).toEqual([1, 1]);
    const dz = block(dl.links[1] as number, packed);
    const size = Number(v.getBigUint64(dz.data + 16, true));
    // BLK, DZ: original type 2 chars, zip u8, reserved, parameter u32, original and packed length u64; 48 bytes and the data.
    expect([dz.id, dz.links, dz.length]).toEqual(['##DZ', [], 48 + size]);
    expect(String.fromCharCode(...packed.subarray(dz.data, dz.data + 2))).toBe('DT');
    expect([packed[dz.data + 2], v.getUint32(dz.data + 4, true)]).toEqual([zip, zip === 1 ? 24 : 0]);
    expect(Number(v.getBigUint64(dz.data + 8, true))).toBe(48);
    const content = inflateSync(packed.subarray(dz.data + 24, dz.data + 24 + size));
    const records = file
      .subarray(block(block(groupOf('CAN_DataFrame')).links[2] as number).data)
      .subarray(0, 48);
    // BLK, transposition: whole rows of the parameter's length are written column by column.
    const rows =
      zip === 0 ? content : content.map((_, k) => content[(k % 24) * 2 + Math.floor(k / 24)] as number);
    expect([...rows]).toEqual([...records]);
    expect(framesOf(readBytes(mdf4, packed).capture)).toEqual(plain);
  });
});
