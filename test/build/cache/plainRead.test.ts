import { mkdtemp, open, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type PlainLayout, placesOf } from '../../../src/build/cache/plainLayout.ts';
import { readPlain } from '../../../src/build/cache/plainRead.ts';
import { writePlain } from '../../../src/build/cache/plainWrite.ts';
import { readCaptureFile } from '../../../src/build/captureFile.ts';
import type { Capture } from '../../../src/capture/store.ts';
import { captureOf, differences, frame, framesArbitrary } from '../../capture/frames.ts';

let folder: string;
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'bywright-plain-'));
});
afterAll(() => rm(folder, { recursive: true, force: true }));

function bytesOf(capture: Capture, groupRows = 1 << 16): { bytes: Buffer; layout: PlainLayout } {
  const parts: Uint8Array[] = [];
  const pieces = writePlain(capture, groupRows);
  for (;;) {
    const { done, value } = pieces.next();
    if (done) return { bytes: Buffer.concat(parts), layout: value };
    parts.push(value);
  }
}

async function reread(bytes: Uint8Array, layout: PlainLayout, capture: Capture): Promise<Capture | null> {
  const path = join(folder, 'some.parquet');
  await writeFile(path, bytes);
  const file = await open(path, 'r');
  try {
    const read = await readPlain(file, layout);
    return read && { ...read, originNs: capture.originNs };
  } finally {
    await file.close();
  }
}

const LONG = captureOf(
  Array.from({ length: 70_003 }, (_, i) =>
    frame(i * 1_000_000, i % 0x7ff, [i & 255, (i >> 8) & 255, i >> 16, 9, 9, 9].slice(0, i % 7), {
      bus: i % 256,
    }),
  ),
);

describe("the cache's own Parquet", () => {
  test('frames of any kind are read back bit for bit', async () => {
    await fc.assert(
      fc.asyncProperty(framesArbitrary('many'), async (frames) => {
        const capture = captureOf(frames);
        const { bytes, layout } = bytesOf(capture);
        const read = (await reread(bytes, layout, capture)) as Capture;
        expect(differences(read, capture)).toEqual([]);
      }),
      { numRuns: 60 },
    );
    const { bytes, layout } = bytesOf(LONG);
    expect(layout.groups).toHaveLength(2);
    expect(differences((await reread(bytes, layout, LONG)) as Capture, LONG)).toEqual([]);
  });

  test('DuckDB, which knows the Parquet format and not ours, reads the same frames from it', async () => {
    const path = join(folder, 'other.parquet');
    const capture = { ...LONG, originNs: 1_700_000_000_000_000_001n, busNames: new Map([[3, 'body']]) };
    await writeFile(path, bytesOf(capture).bytes);
    const read = await readCaptureFile(path);
    expect(differences(read.capture, capture)).toEqual([]);
    expect(read.capture.busNames).toEqual(capture.busNames);
    await fc.assert(
      fc.asyncProperty(framesArbitrary('many'), async (frames) => {
        const some = captureOf(frames);
        await writeFile(path, bytesOf(some).bytes);
        expect(differences((await readCaptureFile(path)).capture, some)).toEqual([]);
      }),
      { numRuns: 10 },
    );
  });

  test('what all frames have in common takes no room', () => {
    const same = captureOf(
      Array.from({ length: 4000 }, (_, i) => frame(i * 1000, 0x100 + (i % 9), [i & 255, 7])),
    );
    const [group] = bytesOf(same).layout.groups;
    expect(group).toMatchObject({ bus: { all: 0 }, flags: { all: 0 }, length: { all: 2 } });
  });

  test('a capture that leaves payloads of another out is written without them', async () => {
    const all = captureOf([frame(0, 1, [1, 2]), frame(1, 2, [3, 4, 5]), frame(2, 3, [6])]);
    const some = {
      ...all,
      count: 2,
      time: all.time.filter((_, i) => i !== 1),
      id: all.id.filter((_, i) => i !== 1),
      bus: all.bus.subarray(0, 2),
      flags: all.flags.subarray(0, 2),
      length: Uint8Array.of(2, 1),
      offset: Uint32Array.of(0, 5),
    };
    const { bytes, layout } = bytesOf(some);
    const read = (await reread(bytes, layout, some)) as Capture;
    expect([...read.payload]).toEqual([1, 2, 6]);
    expect(differences({ ...read, offset: some.offset, payload: some.payload }, some)).toEqual([]);
    expect([...read.offset]).toEqual([0, 2]);
  });

  test('no changed bit in a column and no missing byte goes unnoticed', async () => {
    const capture = captureOf([
      frame(1_000, 0x1a0, [1, 2, 3], { bus: 1 }),
      frame(2_000, 0x1a1, [4, 5, 6, 7, 8]),
    ]);
    const { bytes, layout } = bytesOf(capture);
    const inColumns = new Set(
      layout.groups
        .flatMap(placesOf)
        .flatMap(({ at, bytes }) => Array.from({ length: bytes }, (_, i) => at + i)),
    );
    expect(inColumns.size).toBe(2 * (8 + 4 + 1 + 1) + 8);
    for (let at = 0; at < bytes.length; at++) {
      const isColumn = inColumns.has(at);
      if (!isColumn && at % 13 !== 0) continue;
      const hurt = Buffer.from(bytes);
      hurt.writeUInt8((hurt[at] as number) ^ (1 << (at & 7)), at);
      const read = await reread(hurt, layout, capture);
      // What stands between the columns is for other readers: ours knows the places.
      if (isColumn) expect(read, `byte ${at}`).toBeNull();
      else expect(differences(read as Capture, capture)).toEqual([]);
    }
    for (const cut of [bytes.subarray(0, -1), bytes.subarray(1), Buffer.concat([bytes, Buffer.of(0)])])
      expect(await reread(cut, layout, capture)).toBeNull();
  });

  test('a layout that claims more than the file holds is refused before room is set aside', async () => {
    const capture = captureOf([frame(1_000, 0x1a0, [1, 2, 3])]);
    const { bytes, layout } = bytesOf(capture);
    const [group] = layout.groups;
    if (!group) throw new Error('no group');
    for (const wrong of [
      { rows: 2 ** 40 },
      { dataBytes: 2 ** 40 },
      { t: bytes.length - 7 },
      { data: bytes.length },
    ])
      expect(await reread(bytes, { ...layout, groups: [{ ...group, ...wrong }] }, capture)).toBeNull();
  });
});
