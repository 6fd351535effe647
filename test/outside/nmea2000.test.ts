/**
 * Fast packets of NMEA 2000 on a real boat. Recordings: github.com/CSS-Electronics/api-examples (commit f7932bac), sample
 * logs, MIT licence. Layouts and the kind of each group: the public field database named in the folder's NOTICE (Apache-2.0).
 * Fields of reassembled groups are held against single-frame groups of the same unit, or against plain physics.
 */
import { existsSync, readFileSync } from 'node:fs';
import { resolve } from 'node:path';
import { beforeAll, describe, expect, test } from 'vitest';
import { readRawBig } from '../../src/can/bits.ts';
import { j1939Parts } from '../../src/can/j1939.ts';
import { type Conversations, conversationsOf } from '../../src/capture/conversations.ts';
import type { Capture } from '../../src/capture/store.ts';
import { readRecordings } from '../findings/recordings.ts';

const FOLDER = resolve('../shared/data/boat-11');
const here = existsSync(FOLDER);
if (!here && process.env.CI) throw new Error(`${FOLDER} is missing`);

interface Field {
  name: string;
  start: number;
  len: number;
  signed: boolean;
  scale: number;
  offset: number;
}

interface Definition {
  frame: 'Fast' | 'Single';
  repeating: boolean;
  fields: Field[];
}

/** One message of a group: seconds, sender and payload. */
interface Sent {
  t: number;
  source: number;
  bytes: Uint8Array;
}

describe.skipIf(!here)('NMEA 2000 on a real boat', () => {
  let layouts: Record<string, Definition> = {};
  const runs: { capture: Capture; talks: Conversations }[] = [];

  beforeAll(async () => {
    layouts = JSON.parse(readFileSync(resolve(FOLDER, 'truth.json'), 'utf8')).definitions;
    for (const name of ['boat-11/run-a.csv.gz', 'boat-11/run-b.csv.gz']) {
      const capture = await readRecordings(name);
      runs.push({ capture, talks: conversationsOf(capture) });
    }
  });

  const groupOf = (capture: Capture, i: number) => j1939Parts(capture.id[i] as number).parameterGroup;

  /** Reassembled messages of a group. */
  function fast({ capture, talks: { transfers } }: (typeof runs)[number], group: number): Sent[] {
    return Array.from({ length: transfers.count }, (_, k) => k)
      .filter((k) => transfers.group[k] === group)
      .map((k) => ({
        t: capture.time[transfers.firstFrame[k]!]!,
        source: transfers.idKey[k]! & 0xff,
        bytes: transfers.bytes.slice(transfers.offset[k], transfers.offset[k]! + transfers.length[k]!),
      }));
  }

  /** Frames of a group that fits one frame. */
  function single({ capture }: (typeof runs)[number], group: number): Sent[] {
    return Array.from({ length: capture.count }, (_, i) => i)
      .filter((i) => groupOf(capture, i) === group)
      .map((i) => ({
        t: capture.time[i]!,
        source: capture.id[i]! & 0xff,
        bytes: capture.payload.slice(capture.offset[i], capture.offset[i]! + capture.length[i]!),
      }));
  }

  /** Value of a field by the public layout; NaN where the payload ends before it or the unit says "not available" (all ones). */
  function value(group: number, name: string, bytes: Uint8Array): number {
    const field = layouts[group]!.fields.find((f) => f.name === name)!;
    if (field.start + field.len > 8 * bytes.length) return Number.NaN;
    const raw = readRawBig(bytes, 0, { ...field, length: field.len, byteOrder: 'little' });
    const none = (1n << BigInt(field.len - (field.signed ? 1 : 0))) - 1n;
    return raw === none ? Number.NaN : Number(raw) * field.scale + field.offset;
  }

  /** The message of the same sender nearest in time. */
  function nearest(list: readonly Sent[], to: Sent): Sent {
    const own = list.filter((s) => s.source === to.source);
    return own.reduce((a, b) => (Math.abs(b.t - to.t) < Math.abs(a.t - to.t) ? b : a));
  }

  test('which groups are fast packets is told from their frames and equals the field database, for every group in it', () => {
    let compared = 0;
    for (const { capture, talks } of runs) {
      const found = new Set(talks.transfers.group);
      const groups = new Set(Array.from({ length: capture.count }, (_, i) => groupOf(capture, i)));
      for (const group of groups) {
        const public_ = layouts[group];
        if (!public_) continue;
        expect([group, found.has(group)]).toEqual([group, public_.frame === 'Fast']); // field database
        compared++;
      }
    }
    expect(compared).toBeGreaterThan(40);
  });

  test('every frame of a fast group is part of a whole packet', () => {
    for (const { capture, talks } of runs) {
      const fastGroups = new Set(talks.transfers.group);
      let frames = 0;
      for (let i = 0; i < capture.count; i++) if (fastGroups.has(groupOf(capture, i))) frames++;
      const whole = talks.transfers.frames.reduce((a, b) => a + b, 0);
      // A packet may be cut by the start or the end of the recording; each of these is reported as one fault.
      expect(whole).toBe(frames);
      expect(talks.faultCount).toBe(0);
    }
  });

  test('payloads are as long as the layouts of groups that do not repeat fields', () => {
    const lengths = new Map<number, Set<number>>();
    for (const { talks } of runs) {
      talks.transfers.group.forEach((group, k) => {
        lengths.set(group, (lengths.get(group) ?? new Set()).add(talks.transfers.length[k]!));
      });
    }
    const bytes = (group: number) => {
      const { fields } = layouts[group]!;
      return Math.ceil(Math.max(...fields.map((f) => f.start + f.len)) / 8);
    };
    for (const group of [126996, 128275, 129044, 129538, 129542, 129547]) {
      expect([group, ...lengths.get(group)!]).toEqual([group, bytes(group)]); // field database
    }
  });

  test('position, date and time of 129029 equal those of the single-frame groups 129025, 129033 and 126992', () => {
    for (const run of runs) {
      const positions = fast(run, 129029);
      const rapid = single(run, 129025);
      const clock = single(run, 126992);
      expect(positions.length).toBeGreaterThan(50);
      for (const p of positions) {
        const near = nearest(rapid, p);
        // The boat moves at most 3 m/s: within 1e-4 degrees (11 m) of the position sent at most 0.2 s apart.
        for (const axis of ['Latitude', 'Longitude']) {
          const gap = Math.abs(value(129029, axis, p.bytes) - value(129025, axis, near.bytes));
          expect(gap).toBeLessThan(1e-4); // field database: both layouts
        }
        const same = clock.filter((c) => c.source === p.source);
        if (same.length === 0) continue;
        const time = nearest(same, p);
        expect(value(129029, 'Date', p.bytes)).toBe(value(126992, 'Date', time.bytes)); // field database
        const apart = value(129029, 'Time', p.bytes) - value(126992, 'Time', time.bytes);
        expect(Math.abs(apart - (p.t - time.t))).toBeLessThan(1.5);
      }
    }
  });

  test('horizontal precision and satellites of 129029 agree with 129539 and with the list of 129540', () => {
    const run = runs[0]!;
    const precision = single(run, 129539);
    const views = fast(run, 129540);
    for (const p of fast(run, 129029)) {
      const dop = nearest(precision, p);
      expect(Math.abs(value(129029, 'HDOP', p.bytes) - value(129539, 'HDOP', dop.bytes))).toBeLessThan(0.3); // field database
      const view = nearest(views, p);
      const used = value(129029, 'Number of SVs', p.bytes);
      expect(used).toBeGreaterThan(3);
      // A fast packet of 223 bytes has room for 18 satellites, however many are used.
      expect(value(129540, 'Sats in View', view.bytes)).toBeGreaterThanOrEqual(Math.min(used, 18)); // field database
    }
    // One satellite takes 12 bytes after the 3 at the start: the count inside must agree with the reassembled length.
    for (const v of views) expect(v.bytes.length).toBe(3 + 12 * value(129540, 'Sats in View', v.bytes)); // field database
  });

  test('the distance log 128275 does not run back, and grows no faster than the boat', () => {
    for (const run of runs) {
      const logs = fast(run, 128275);
      expect(logs.length).toBeGreaterThan(50);
      const metres = logs.map((l) => value(128275, 'Log', l.bytes)).filter((m) => Number.isFinite(m));
      for (let k = 1; k < metres.length; k++) expect(metres[k]).toBeGreaterThanOrEqual(metres[k - 1]!);
      const seconds = logs.at(-1)!.t - logs[0]!.t;
      if (metres.length > 1) expect(metres.at(-1)! - metres[0]!).toBeLessThan(15 * seconds); // physics: less than 15 m/s
    }
  });

  test('noise along the axes of 129542 is at least that of its parts: major ≥ minor, and both give the mean', () => {
    const messages = fast(runs[0]!, 129542);
    expect(messages.length).toBe(300);
    for (const { bytes } of messages) {
      const [major, minor] = [
        value(129542, 'STD of Major axis', bytes),
        value(129542, 'STD of Minor axis', bytes),
      ];
      const [lat, lon] = [value(129542, 'STD of Lat Error', bytes), value(129542, 'STD of Lon Error', bytes)];
      expect(major).toBeGreaterThanOrEqual(minor);
      // An ellipse and its projections on two axes have the same sum of squares.
      expect(Math.abs(Math.hypot(major, minor) - Math.hypot(lat, lon))).toBeLessThan(0.05);
    }
  });

  test('air of the weather group 130323 is that of the single-frame groups 130311 and 130314', () => {
    const run = runs[1]!;
    const weather = fast(run, 130323);
    expect(weather.length).toBe(60);
    for (const w of weather) {
      const kelvin = value(130323, 'Ambient Temperature', w.bytes);
      const pascal = value(130323, 'Atmospheric Pressure', w.bytes);
      if (Number.isFinite(kelvin)) expect(kelvin).toSatisfy((k: number) => k > 250 && k < 330);
      const [air] = single(run, 130311).filter((s) => s.source === w.source);
      if (air && Number.isFinite(pascal)) {
        expect(Math.abs(pascal - value(130311, 'Atmospheric Pressure', air.bytes))).toBeLessThanOrEqual(100);
      }
    }
  });
});
