import { mkdtemp, open, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type PlainLayout, readPlain, writePlain } from '../../../src/build/cache/plainParquet.ts';
import { readCaptureFile } from '../../../src/build/captureFile.ts';
import type { Capture } from '../../../src/capture/store.ts';
import { captureOf, differences, frame, framesArbitrary } from '../../capture/frames.ts';

let folder: string;
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'bywright-plain-'));
});
afterAll(() => rm(folder, { recursive: true, force: true }));

function bytesOf(capture: Capture): { bytes: Buffer; layout: PlainLayout } {
  const parts: Uint8Array[] = [];
  const pieces = writePlain(capture);
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
    const read = await readPlain(file, layout, capture.payload.length);
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

  test('no changed bit and no missing byte goes unnoticed', async () => {
    const capture = captureOf([frame(1_000, 0x1a0, [1, 2, 3]), frame(2_000, 0x1a1, [4, 5, 6, 7, 8])]);
    const { bytes, layout } = bytesOf(capture);
    for (let at = 0; at < bytes.length; at += 13) {
      const hurt = Buffer.from(bytes);
      hurt.writeUInt8((hurt[at] as number) ^ (1 << (at & 7)), at);
      expect(await reread(hurt, layout, capture), `byte ${at}`).toBeNull();
    }
    for (const cut of [bytes.subarray(0, -1), bytes.subarray(1), Buffer.concat([bytes, Buffer.of(0)])])
      expect(await reread(cut, layout, capture)).toBeNull();
  });
});
