import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { readCaptureFile, writeCaptureFile } from '../../src/build/captureFile.ts';
import { importCapture } from '../../src/build/importCapture.ts';
import { captureOf, differences, frame } from '../capture/frames.ts';

let folder = '';
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'bywright-import-'));
  await writeFile(join(folder, 'build.yaml'), '');
});
afterAll(() => rm(folder, { recursive: true }));

const CAPTURE = captureOf(
  Array.from({ length: 50 }, (_, n) =>
    frame(1_700_000_000_000_000_000n + BigInt(n) * 10_000_000n, 0x100 + (n % 3), [n, 1, 2]),
  ),
);

test.each(['mf4', 'pcapng', 'pcap'])(
  'a recording that describes itself (%s) is kept byte for byte',
  async (ending) => {
    const file = join(folder, `drive.${ending}`);
    await writeCaptureFile(file, CAPTURE);
    const { name, frames } = await importCapture(folder, file);
    expect([name, frames]).toEqual([`drive.${ending}`, 50]);
    expect(await readFile(join(folder, 'captures', name))).toEqual(await readFile(file));
  },
);

test('text, whose columns were inferred, is kept as pcapng', async () => {
  const file = join(folder, 'typed.csv');
  await writeCaptureFile(file, CAPTURE);
  const { name } = await importCapture(folder, file);
  expect(name).toBe('typed.pcapng');
  expect(differences((await readCaptureFile(join(folder, 'captures', name))).capture, CAPTURE)).toEqual([]);
});
