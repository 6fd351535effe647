import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { readCaptureFile, writeCaptureFile } from '../../../src/build/captureFile.ts';
import { openDuckDb, quoted } from '../../../src/build/parquet/duckdb.ts';
import { FLAG } from '../../../src/can/frame.ts';
import { captureOf, differences, frame, framesArbitrary, framesOf } from '../../capture/frames.ts';

let folder: string;
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'bywright-parquet-'));
});
afterAll(() => rm(folder, { recursive: true, force: true }));

/** Writes what a query gives to a Parquet file, as another program would. */
async function foreign(name: string, query: string): Promise<string> {
  const path = join(folder, name);
  const db = await openDuckDb();
  await db.connection.run(`copy (${query}) to ${quoted(path)} (format parquet)`);
  db.close();
  return path;
}

const plain = captureOf([
  frame(1_700_000_000_000_000_000n, 0x1a0, [1, 2, 3, 4, 5, 6, 7, 8]),
  frame(1_700_000_000_010_000_123n, 0x0cf00400, [9], { flags: FLAG.extended, bus: 2 }),
]);

describe('Parquet', () => {
  test('a capture written as Parquet is read back bit for bit, whatever its frames, buses and times', async () => {
    const path = join(folder, 'any.parquet');
    await fc.assert(
      fc.asyncProperty(framesArbitrary('many'), async (frames) => {
        const capture = captureOf(frames);
        await writeCaptureFile(path, capture);
        const read = await readCaptureFile(path);
        expect(read.format).toBe('parquet');
        expect(differences(read.capture, capture)).toEqual([]);
      }),
      { numRuns: 15 },
    );
  });

  test('frames of more than one chunk and more than one row group keep their order, and names of buses stay', async () => {
    const frames = Array.from({ length: 130_000 }, (_, i) =>
      frame(i * 1_000_000, i % 0x7ff, [i & 255, (i >> 8) & 255, i >> 16].slice(0, i % 4), { bus: i % 3 }),
    );
    const capture = { ...captureOf(frames), busNames: new Map([[2, "driver's side"]]) };
    const path = join(folder, 'long.parquet');
    await writeCaptureFile(path, capture);
    const seen: number[] = [];
    const read = await readCaptureFile(path, { onProgress: (_, __, count) => seen.push(count) });
    expect(differences(read.capture, capture)).toEqual([]);
    expect(read.capture.busNames).toEqual(capture.busNames);
    expect(seen.at(-1)).toBe(130_000);
    expect(read.guess).toBe('Parquet, 130000 rows');
  });

  test('a file whose name holds wildcards and quotes is read and not searched for', async () => {
    const path = join(folder, "we*t d[a]y's?.parquet");
    await writeCaptureFile(path, plain);
    expect(differences((await readCaptureFile(path)).capture, plain)).toEqual([]);
  });

  test('columns of another program are found by name and type: instants, hex text, lists of bytes, no bus', async () => {
    const path = await foreign(
      'other.parquet',
      `select * from (values
        (timestamp '2024-05-01 13:59:01.25', '1A0', '00 ff 10'),
        (timestamp '2024-05-01 13:59:01.5', '0x18FEF100', 'AB'),
        (timestamp '2024-05-01 13:59:01.75', 'zz', '00')) v(timestamp, msg_id, payload)`,
    );
    const { capture, guess, notes } = await readCaptureFile(path);
    const start = BigInt(Date.UTC(2024, 4, 1, 13, 59, 1, 250)) * 1_000_000n;
    expect(framesOf(capture)).toEqual([
      frame(start, 0x1a0, [0, 0xff, 0x10]),
      frame(start + 250_000_000n, 0x18fef100, [0xab], { flags: FLAG.extended }),
    ]);
    expect(guess).toBe(
      'Parquet, t from timestamp, id from msg_id, data from payload, id as hex text, data as hex text',
    );
    expect(notes).toEqual(['1 row was skipped: row 3 holds no identifier that can be read.']);

    const lists = await foreign(
      'lists.parquet',
      "select 1714571941.25 + i as time_s, 'can' || i as channel, i as id, [1, i] as data, i = 1 as is_extended from range(2) r(i)",
    );
    expect(framesOf((await readCaptureFile(lists)).capture)).toEqual([
      frame(start, 0, [1, 0], { bus: 0 }),
      frame(start + 1_000_000_000n, 1, [1, 1], { bus: 1, flags: FLAG.extended }),
    ]);
  });

  test('missing values are told and never taken for frames', async () => {
    const path = await foreign(
      'holes.parquet',
      `select * from (values (0.5::double, 0::utinyint, 5::uinteger, 0::utinyint, 0::utinyint, 1::utinyint, '\\x01'::blob),
        (null, 0, 5, 0, 0, 1, '\\x01'::blob), (0.7, 0, 6, 0, 0, 1, null), (0.6, null, 2048, 0, 0, 1, '\\x02'::blob),
        (0.8, 0, 7, 0, 0, 9, '123456789'::blob)) v(t, bus, id, ext, flags, length, data)`,
    );
    const { capture, notes } = await readCaptureFile(path);
    expect(capture.count).toBe(1);
    expect(notes).toEqual([
      '1 row was skipped: row 2 holds no time.',
      '1 row was skipped: row 3 holds a length that differs from its payload.',
      '1 row was skipped: row 4 holds an identifier above 0x7FF.',
      '1 row was skipped: row 5 holds a payload length that no such frame has.',
    ]);
  });

  test('a Parquet file without frames says which columns it has and which are needed', async () => {
    const path = await foreign('prices.parquet', "select 'apple' as fruit, 2 as price");
    await expect(readCaptureFile(path)).rejects.toThrow(
      /prices\.parquet: This Parquet file holds no frames: its columns are fruit VARCHAR, price INTEGER; right would be/,
    );
    const none = await foreign('none.parquet', "select 1 as id, ''::blob as data where false");
    await expect(readCaptureFile(none)).rejects.toThrow('holds no rows');
  });

  test('a Parquet file that was cut or damaged gives one sentence, wherever it happened', async () => {
    const path = join(folder, 'whole.parquet');
    await writeCaptureFile(path, plain);
    const bytes = await readFile(path);
    const hurt = join(folder, 'hurt.parquet');
    for (let at = 4; at < bytes.length; at += 41) {
      await writeFile(hurt, bytes.subarray(0, at));
      await expect(readCaptureFile(hurt)).rejects.toThrow(
        /hurt\.parquet: The Parquet file is cut short: [^\n]+\.$/,
      );
      const flipped = Buffer.from(bytes);
      flipped.writeUInt8((flipped[at] as number) ^ 0xff, at);
      await writeFile(hurt, flipped);
      await readCaptureFile(hurt).then(
        ({ capture }) => expect(capture.count).toBeLessThanOrEqual(2),
        (error: Error) => {
          expect(error.name).toBe('CaptureError');
          expect(error.message).not.toContain('\n');
        },
      );
    }
  });
});
