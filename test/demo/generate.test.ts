import { mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { DEMO_SEED, DRIVE_1, generateDemo, record } from '../../demo/generator/index.ts';
import { pcapng } from '../../src/capture/formats/pcapng.ts';
import { CaptureBuilder } from '../../src/capture/store.ts';
import { recording } from './recording.ts';

let folder: string;
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'bywright-demo-'));
});
afterEach(() => rm(folder, { recursive: true, force: true }));

describe('generateDemo', () => {
  test('writes both recordings, whole and readable, and leaves nothing unfinished', async () => {
    const written = await generateDemo(folder);
    expect(written.map((w) => w.file)).toEqual(['captures/drive-1.pcapng', 'captures/bench-1.pcapng']);
    expect(await readdir(join(folder, 'captures'))).toEqual(['bench-1.pcapng', 'drive-1.pcapng']);
    const builder = new CaptureBuilder();
    const reader = pcapng.open(builder);
    reader.push(await readFile(join(folder, 'captures/drive-1.pcapng')));
    reader.end();
    const read = builder.finish();
    const made = recording('drive-1');
    expect(written[0]?.frames).toBe(made.count);
    expect(read.count).toBe(made.count);
    for (const key of ['id', 'bus', 'flags', 'length', 'payload'] as const) {
      expect(
        Buffer.compare(Buffer.from(read[key].slice().buffer), Buffer.from(made[key].slice().buffer)),
        key,
      ).toBe(0);
    }
    // The reader counts from the first frame; both clocks give the same moments.
    const shift = Number(read.originNs - DRIVE_1.originNs) / 1e9;
    let worst = 0;
    for (let i = 0; i < read.count; i++)
      worst = Math.max(worst, Math.abs(read.time[i]! + shift - made.time[i]!));
    expect(worst).toBeLessThan(1e-6);
    // What is there already stays as it is.
    await writeFile(join(folder, 'captures/drive-1.pcapng'), 'mine');
    expect(await generateDemo(folder)).toEqual([]);
    expect(await readFile(join(folder, 'captures/drive-1.pcapng'), 'utf8')).toBe('mine');
  });

  test('the bytes of a file follow from the seed alone', () => {
    const bytes = (seed: number) => {
      const capture = record({ ...DRIVE_1, durationS: 3 }, seed);
      return Buffer.concat([...pcapng.write!(capture)]);
    };
    expect(bytes(DEMO_SEED).equals(bytes(DEMO_SEED))).toBe(true);
    expect(bytes(DEMO_SEED).equals(bytes(DEMO_SEED + 1))).toBe(false);
  });

  test('a folder that cannot be written to is an error, not half a file', async () => {
    await writeFile(join(folder, 'captures'), 'a file where the folder should be');
    await expect(generateDemo(folder)).rejects.toThrow();
    expect(await readdir(folder)).toEqual(['captures']);
  });
});
