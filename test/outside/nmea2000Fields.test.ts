/**
 * Every group of a real boat that a public field database lays out: packets put together again and every field decoded, held
 * against a second way from the text of the recordings to the values, written plainly here. Recordings:
 * github.com/CSS-Electronics/api-examples (commit f7932bac), sample logs, MIT licence. Layouts: the public field database
 * named in the folder's NOTICE (Apache-2.0). The fast packet's bytes (3 bits of sequence, 5 of index; 6 bytes of payload
 * behind the length in the first frame, 7 in the others): the `frame` note of the data folder's FORMAT.md.
 */
import { existsSync, readFileSync } from 'node:fs';
import { resolve } from 'node:path';
import { gunzipSync } from 'node:zlib';
import { beforeAll, describe, expect, test } from 'vitest';
import { readRawBig } from '../../src/can/bits.ts';
import { j1939Parts } from '../../src/can/j1939.ts';
import { conversationsOf } from '../../src/capture/conversations.ts';
import type { Capture } from '../../src/capture/store.ts';
import { decodeSignal, messageFrames } from '../../src/dictionary/decode.ts';
import type { Message, Signal } from '../../src/dictionary/model.ts';
import { messageSchema } from '../../src/dictionary/schema.ts';
import { readRecordings } from '../findings/recordings.ts';

const FOLDER = resolve('../shared/data/boat-11');
const here = existsSync(FOLDER);
if (!here) console.log(`skipped: ${FOLDER} is not there`);
if (!here && process.env.CI) throw new Error(`${FOLDER} is missing`);

interface Field {
  name: string;
  start: number;
  len: number;
  signed: boolean;
  scale: number;
  offset: number;
}

interface Layout {
  frame: 'Fast' | 'Single';
  fields: Field[];
}

/** A line of the recording, its payload as hex text. */
interface Line {
  id: string;
  group: number;
  data: string;
}

describe.skipIf(!here)('NMEA 2000, every group and field of the database', () => {
  let layouts: Record<string, Layout> = {};
  const runs: { capture: Capture; lines: Line[] }[] = [];

  beforeAll(async () => {
    layouts = JSON.parse(readFileSync(resolve(FOLDER, 'truth.json'), 'utf8')).definitions;
    for (const name of ['run-a.csv.gz', 'run-b.csv.gz']) {
      const text = gunzipSync(readFileSync(resolve(FOLDER, name))).toString();
      const lines = text
        .trim()
        .split('\n')
        .slice(1)
        .map((line) => {
          const [, , id, , data] = line.split(',') as [string, string, string, string, string];
          return { id, group: groupOfText(id), data };
        });
      runs.push({ capture: await readRecordings(`boat-11/${name}`), lines });
    }
  });

  /** Packets of each identifier, put together by the plain rule. */
  function packets(lines: readonly Line[]): Map<string, string[]> {
    const done = new Map<string, string[]>();
    const open = new Map<string, { sequence: number; next: number; length: number; data: string }>();
    for (const { id, group, data } of lines) {
      if (layouts[group]?.frame !== 'Fast') continue;
      const first = Number.parseInt(data.slice(0, 2), 16);
      const [sequence, index] = [first >> 5, first & 31];
      if (index === 0) {
        open.set(id, {
          sequence,
          next: 1,
          length: Number.parseInt(data.slice(2, 4), 16),
          data: data.slice(4),
        });
      } else {
        const packet = open.get(id);
        if (packet === undefined || packet.sequence !== sequence || packet.next !== index) {
          open.delete(id);
          continue;
        }
        packet.data += data.slice(2);
        packet.next++;
      }
      const packet = open.get(id);
      if (packet === undefined || packet.data.length < 2 * packet.length) continue;
      open.delete(id);
      done.set(id, [...(done.get(id) ?? []), packet.data.slice(0, 2 * packet.length)]);
    }
    return done;
  }

  test('packets are put together as the plain rule does it, byte for byte', () => {
    let compared = 0;
    for (const { capture, lines } of runs) {
      const { transfers } = conversationsOf(capture);
      const ours = new Map<string, string[]>();
      for (let k = 0; k < transfers.count; k++) {
        if (layouts[transfers.group[k]!]?.frame !== 'Fast') continue;
        const id = (transfers.idKey[k]! & 0x1fff_ffff).toString(16).toUpperCase().padStart(8, '0');
        const from = transfers.offset[k]!;
        const text = Buffer.from(transfers.bytes.subarray(from, from + transfers.length[k]!)).toString('hex');
        ours.set(id, [...(ours.get(id) ?? []), text]);
      }
      const plain = packets(lines);
      expect([...ours.keys()].sort()).toEqual([...plain.keys()].sort());
      for (const [id, list] of plain) expect([id, ours.get(id)]).toEqual([id, list]);
      for (const list of plain.values()) compared += list.length;
    }
    expect(compared).toBe(2524); // counted by twenty lines of Python, by the same rule
  });

  test('every field of every group of several frames has the value that its bits, one by one, say', () => {
    const seen = new Map<string, number>();
    for (const { capture } of runs) {
      const { transfers } = conversationsOf(capture);
      for (let k = 0; k < transfers.count; k++) {
        const group = transfers.group[k]!;
        const layout = layouts[group];
        if (layout?.frame !== 'Fast') continue;
        const from = transfers.offset[k]!;
        const bytes = transfers.bytes.subarray(from, from + transfers.length[k]!);
        const bits = bitText(Buffer.from(bytes).toString('hex'));
        for (const field of layout.fields) {
          if (field.start + field.len > bits.length) continue;
          const key = `${group} ${field.name} ${field.start}`;
          seen.set(key, (seen.get(key) ?? 0) + 1);
          if (field.len > 64) continue;
          const raw = readRawBig(bytes, 0, { ...field, length: field.len, byteOrder: 'little' });
          expect(raw, key).toBe(plainRaw(bits, field));
        }
      }
    }
    const groups = new Set([...seen.keys()].map((key) => key.split(' ')[0]));
    const due = Object.entries(layouts).filter(([, { frame }]) => frame === 'Fast');
    expect([...groups].sort()).toEqual(due.map(([group]) => group).sort()); // field database
    const absent = due.flatMap(([group, { fields }]) =>
      fields.map((f) => `${group} ${f.name} ${f.start}`).filter((key) => !seen.has(key)),
    );
    // They repeat for each reference station, and no position names one.
    expect(absent).toEqual([
      '129029 Reference Station Type 344',
      '129029 Reference Station ID 348',
      '129029 Age of DGNSS Corrections 360',
    ]);
    const values = [...seen.values()].reduce((a, b) => a + b, 0);
    console.log(`${values} values of ${seen.size} fields in ${groups.size} groups of several frames`);
  });

  test('every field of every group of one frame is decoded by the dictionary to the value that its bits say', () => {
    let values = 0;
    const groups = new Set<number>();
    const fields = new Set<string>();
    for (const { capture, lines } of runs) {
      const byId = new Map<string, Line[]>();
      for (const line of lines) byId.set(line.id, [...(byId.get(line.id) ?? []), line]);
      for (const [id, list] of byId) {
        const group = list[0]!.group;
        const layout = layouts[group];
        if (layout?.frame !== 'Single') continue;
        groups.add(group);
        const message = messageOf(id, layout);
        const frames = messageFrames(capture, 0, message);
        expect(frames.length).toBe(list.length);
        for (const [n, signal] of message.signals.entries()) {
          const field = layout.fields.filter((f) => f.len <= 64)[n]!;
          const { value, tooShort } = decodeSignal(capture, frames, message, signal);
          const plain = list
            .map(({ data }) => bitText(data))
            .filter((bits) => bits.length >= field.start + field.len)
            .map((bits) => Number(plainRaw(bits, field)) * field.scale + field.offset);
          expect(tooShort).toBe(list.length - plain.length);
          expect([...value], `${group} ${field.name}`).toEqual(plain);
          if (plain.length > 0) fields.add(`${group} ${field.name} ${field.start}`);
          values += plain.length;
        }
      }
    }
    const due = Object.entries(layouts).filter(([, { frame }]) => frame === 'Single');
    expect([...groups].map(String).sort()).toEqual(due.map(([group]) => group).sort()); // field database
    expect(fields.size).toBe(due.reduce((sum, [, layout]) => sum + layout.fields.length, 0));
    console.log(`${values} values of ${fields.size} fields in ${groups.size} groups of one frame`);
  });
});

/** By the parts of the identifier's text alone. */
function groupOfText(id: string): number {
  const page = Number.parseInt(id.slice(0, 2), 16) & 3;
  const format = Number.parseInt(id.slice(2, 4), 16);
  const low = format < 240 ? 0 : Number.parseInt(id.slice(4, 6), 16);
  const group = page * 65536 + format * 256 + low;
  if (group !== j1939Parts(Number.parseInt(id, 16)).parameterGroup)
    throw new Error(`${id} divides otherwise`);
  return group;
}

/** The bits of hex text, the lowest of the first byte first. */
function bitText(hex: string): string {
  let bits = '';
  for (let k = 0; k < hex.length; k += 2) {
    const byte = Number.parseInt(hex.slice(k, k + 2), 16)
      .toString(2)
      .padStart(8, '0');
    bits += [...byte].reverse().join('');
  }
  return bits;
}

function plainRaw(bits: string, { start, len, signed }: Field): bigint {
  const digits = [...bits.slice(start, start + len)].reverse().join('');
  const value = BigInt(`0b${digits}`);
  return signed && digits.startsWith('1') ? value - 2n ** BigInt(len) : value;
}

function messageOf(id: string, { fields }: Layout): Message {
  const signals = fields
    .filter(({ len }) => len <= 64)
    .map(
      ({ name, start, len, signed, scale, offset }): Signal => ({
        ...messageSchema.parse({
          name: 'x',
          id: 1,
          length: 8,
          signals: [{ name, start, length: len, byte_order: 'little', signed, scale, offset }],
        }).signals[0]!,
        byteOrder: 'little',
      }),
    );
  return { name: id, id: Number.parseInt(id, 16), extended: true, length: 8, signals } as unknown as Message;
}
