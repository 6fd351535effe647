/**
 * Requests for parameter groups and their answers on a real boat and a real tractor. Recordings:
 * github.com/CSS-Electronics/api-examples (commit f7932bac), sample logs, MIT licence, and the tractor's named in its
 * folder. Layouts of request and acknowledgement: the public field database named in the boat folder's NOTICE (Apache-2.0).
 * The identifier 18EA00F9 as group 59904 from 249 to 0: layout in the Linux kernel's Documentation/networking/j1939.rst.
 */
import { existsSync, readFileSync } from 'node:fs';
import { resolve } from 'node:path';
import { describe, expect, test } from 'vitest';
import { acknowledgementIn, requestedGroup } from '../../src/can/parameterRequest.ts';
import { conversationsOf } from '../../src/capture/conversations.ts';
import type { Capture } from '../../src/capture/store.ts';
import { captureOf, frame } from '../capture/frames.ts';
import { readRecordings } from '../findings/recordings.ts';

const FOLDER = resolve('../shared/data/boat-11');
const here = existsSync(FOLDER);
if (!here && process.env.CI) throw new Error(`${FOLDER} is missing`);

interface Layout {
  fields: { name: string; start: number; len: number }[];
}

test('18EA00F9 asks unit 0 for the group in its payload, on behalf of 249', () => {
  const asked = frame(0, 0x18ea00f9, [0xec, 0xfe, 0x00], { flags: 1 }); // j1939.rst
  const [request] = conversationsOf(captureOf([asked])).groupRequests;
  expect(request).toMatchObject({ from: 249, to: 0, group: 65260, outcome: 'cutOff' });
});

describe.skipIf(!here)('on real buses', () => {
  const layouts: Record<string, Layout> = here
    ? JSON.parse(readFileSync(resolve(FOLDER, 'truth.json'), 'utf8')).definitions
    : {};
  /** Little-endian, by the field database. */
  const field = (group: number, name: string, bytes: Uint8Array) => {
    const { start, len } = layouts[group]!.fields.find((f) => f.name === name)!;
    let value = 0;
    for (let k = len - 1; k >= 0; k--)
      value = value * 2 + (((bytes[(start + k) >> 3] as number) >> ((start + k) & 7)) & 1);
    return value;
  };
  const frames = (capture: Capture, format: number) =>
    Array.from({ length: capture.count }, (_, i) => i)
      .filter((i) => ((capture.id[i]! >>> 16) & 0x3ff) === format)
      .map((i) => capture.payload.slice(capture.offset[i], capture.offset[i]! + capture.length[i]!));

  test('requests and acknowledgements are read as the field database lays them out', async () => {
    let read = 0;
    for (const name of ['boat-11/run-a.csv.gz', 'boat-11/run-b.csv.gz']) {
      const capture = await readRecordings(name);
      for (const bytes of frames(capture, 0xea)) {
        expect(requestedGroup(bytes, 0, bytes.length)).toBe(field(59904, 'PGN', bytes)); // field database
        read++;
      }
      for (const bytes of frames(capture, 0xe8)) {
        const told = acknowledgementIn(bytes, 0, bytes.length);
        expect(told?.control).toBe(field(59392, 'Control', bytes)); // field database
        expect(told?.group).toBe(field(59392, 'PGN', bytes)); // field database
        read++;
      }
    }
    expect(read).toBe(30 + 34 + 92); // counted with grep in the recordings
  });

  test('every request of the first boat run is answered by the unit asked, groups of several frames included', async () => {
    const { groupRequests, transfers } = conversationsOf(await readRecordings('boat-11/run-a.csv.gz'));
    expect(groupRequests).toHaveLength(30);
    for (const row of groupRequests) {
      expect([row.outcome, row.by, row.from, row.alsoUnasked]).toEqual(['answered', row.to, 3, false]);
      expect(row.delayS).toBeLessThan(0.2);
      if (row.transfer >= 0) expect(transfers.group[row.transfer]).toBe(row.group);
      // 60928 is a single frame, 126464 and 126996 are fast packets (field database).
      expect(row.transfer >= 0).toBe(row.group !== 60928);
    }
  });

  test('of the second, each acknowledgement is the answer to one request', async () => {
    const capture = await readRecordings('boat-11/run-b.csv.gz');
    const { groupRequests } = conversationsOf(capture);
    const acknowledged = groupRequests.filter(({ outcome }) => ['refused', 'denied'].includes(outcome));
    // All 92, but for those that come after a second one of the same unit to the same request.
    const answers = new Set(acknowledged.map(({ answer }) => answer));
    expect(answers.size).toBe(acknowledged.length);
    expect(frames(capture, 0xe8)).toHaveLength(92);
    expect(acknowledged.length).toBe(92);
  });
});
