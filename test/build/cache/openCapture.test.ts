import { spawn } from 'node:child_process';
import { existsSync, readdirSync } from 'node:fs';
import { appendFile, readFile, rm, unlink, utimes, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { gzipSync } from 'node:zlib';
import { describe, expect, test } from 'vitest';
import { type Entry, readEntry } from '../../../src/build/cache/entry.ts';
import { type OpenOptions, openCapture } from '../../../src/build/cache/openCapture.ts';
import { contentHash } from '../../../src/build/save.ts';
import { pcapng } from '../../../src/capture/formats/pcapng.ts';
import { text } from '../../../src/capture/formats/text.ts';
import type { Capture } from '../../../src/capture/store.ts';
import { captureOf, differences, frame, written } from '../../capture/frames.ts';
import { bywright } from '../../cli/bywright.ts';
import { folderWith } from '../folder.ts';

const CAPTURE = captureOf(
  Array.from({ length: 3000 }, (_, n) =>
    frame(1_700_000_000_000_000_000n + BigInt(n) * 250_000n, 0x100 + (n % 40), [n & 255, n >> 8, 7], {
      bus: n % 2,
    }),
  ),
);
const NAME = 'monday.csv';
const ALL: OpenOptions = { leastFrames: 0 };

function buildWith(content: string | Uint8Array = written(text, CAPTURE), name = NAME): string {
  return folderWith({ [`captures/${name}`]: content });
}

function cacheOf(folder: string): string[] {
  const path = join(folder, '.cache/captures');
  return existsSync(path) ? readdirSync(path).sort() : [];
}

async function entryOf(folder: string): Promise<Entry> {
  const entry = await readEntry(folder, NAME);
  if (typeof entry === 'string') throw new Error(entry);
  return entry;
}

/** Opens the capture, waits for its cache and says where the frames came from. */
async function opened(folder: string, name = NAME, options = ALL) {
  const read = await openCapture(folder, name, options);
  return { ...read, cached: await read.cached };
}

function sameFrames(a: Capture, b: Capture = CAPTURE): void {
  expect(differences(a, b)).toEqual([]);
}

describe('the cache of captures', () => {
  test('a text recording is read once and then comes from the cache with the same frames, guess and notes', async () => {
    const folder = buildWith(Buffer.concat([written(text, CAPTURE), Buffer.from('nonsense\n')]));
    const first = await opened(folder);
    expect([first.from, first.cached]).toEqual(['file', 'written']);
    expect(cacheOf(folder)).toEqual([
      expect.stringMatching(/^monday\.csv\.[0-9a-f]{16}\.parquet$/),
      'monday.csv.json',
    ]);
    const second = await opened(folder);
    expect([second.from, second.cached]).toEqual(['cache', 'already']);
    sameFrames(first.capture);
    sameFrames(second.capture);
    const told = ({ format, guess, notes }: typeof first) => ({ format, guess, notes });
    expect(told(second)).toEqual(told(first));
    expect(second.notes).toHaveLength(1);
  });

  test('packed recordings are kept, plain pcap and small recordings are read anew', async () => {
    const packed = buildWith(gzipSync(written(pcapng, CAPTURE)), 'a.pcapng.gz');
    await opened(packed, 'a.pcapng.gz');
    expect((await opened(packed, 'a.pcapng.gz')).from).toBe('cache');
    const plain = buildWith(written(pcapng, CAPTURE), 'a.pcapng');
    expect((await opened(plain, 'a.pcapng')).cached).toBe('not needed');
    const small = buildWith();
    expect((await opened(small, NAME, {})).cached).toBe('not needed');
    expect([...cacheOf(plain), ...cacheOf(small)]).toEqual([]);
  });

  test('changed content is read anew and replaces what was kept, also where size and time are the same', async () => {
    const folder = buildWith();
    const path = join(folder, 'captures', NAME);
    const old = new Date(Date.now() - 60_000);
    await utimes(path, old, old);
    await opened(folder);
    const other = captureOf([frame(1_700_000_000_000_000_000n, 0x7ff, [1, 2, 3])]);
    await appendFile(path, '1700000001.000000,0,7ff,0,010203\n');
    const grown = await opened(folder);
    expect([grown.from, grown.cached, grown.capture.count]).toEqual(['file', 'written', 3001]);

    const content = await readFile(path, 'latin1');
    await writeFile(path, content.replace(',7ff,', ',7fe,'), 'latin1');
    await utimes(path, old, old);
    const turned = await opened(folder);
    expect([turned.from, turned.capture.id[3000]]).toEqual(['file', 0x7fe]);
    await writeFile(path, written(text, other));
    sameFrames((await opened(folder)).capture, other);
    expect(cacheOf(folder)).toHaveLength(2);
  });

  test('what other readers made is read anew, without a word', async () => {
    const folder = buildWith();
    await opened(folder);
    const path = join(folder, '.cache/captures', `${NAME}.json`);
    const line = (await readFile(path, 'utf8')).split('\n')[0] as string;
    const entry = JSON.parse(line);
    const older = JSON.stringify({ ...entry, key: { ...entry.key, readers: '0123456789abcdef' } });
    await writeFile(path, `${older}\n${contentHash(older)}\n`);
    const read = await opened(folder);
    expect([read.from, read.notes, read.cached]).toEqual(['file', [], 'written']);
    expect((await opened(folder)).from).toBe('cache');
  });

  test('other columns make another cache', async () => {
    const folder = buildWith('1 2 10\n2 3 11\n3 2 12\n', 'odd.txt');
    const by = async (columns: string) =>
      [...(await opened(folder, 'odd.txt', { ...ALL, columns })).capture.id].join();
    expect(await by('time,id,data')).toBe('2,3,2');
    expect(await by('time,data,id')).toBe('16,17,18');
    expect(await by('time,id,data')).toBe('2,3,2');
  });

  test('a touched file of the same content is still known by its content', async () => {
    const folder = buildWith();
    await opened(folder);
    await utimes(join(folder, 'captures', NAME), new Date(), new Date(0));
    expect((await opened(folder)).from).toBe('cache');
  });

  test('a hash that the caller knows decides without another look at the file', async () => {
    const folder = buildWith();
    await opened(folder);
    const { key } = JSON.parse(
      (await readFile(join(folder, '.cache/captures', `${NAME}.json`), 'utf8')).split('\n')[0] as string,
    );
    expect((await opened(folder, NAME, { ...ALL, hash: key.sha256 })).from).toBe('cache');
    expect((await opened(folder, NAME, { ...ALL, hash: '0'.repeat(64) })).from).toBe('file');
  });

  test('the cache can be deleted at any time, whole or in part', async () => {
    const folder = buildWith();
    await opened(folder);
    await rm(join(folder, '.cache'), { recursive: true });
    expect((await opened(folder)).from).toBe('file');
    const parquet = cacheOf(folder).find((name) => name.endsWith('.parquet')) as string;
    await unlink(join(folder, '.cache/captures', parquet));
    const again = await opened(folder);
    expect([again.from, again.notes, again.cached]).toEqual(['file', [], 'written']);
    expect((await opened(folder)).from).toBe('cache');
  });

  test('a damaged cache is ignored with a note and made anew, whatever byte of a column or of the entry is hurt', async () => {
    const folder = buildWith();
    await opened(folder);
    const files = cacheOf(folder);
    const [group] = (await entryOf(folder)).layout.groups;
    if (!group) throw new Error('no group');
    for (const name of files) {
      const path = join(folder, '.cache/captures', name);
      const bytes = await readFile(path);
      const places = name.endsWith('.json')
        ? [0, bytes.length >> 1, bytes.length - 3]
        : [group.t + 9, group.id, group.data + group.dataBytes - 1];
      for (const at of places) {
        const hurt = Buffer.from(bytes);
        hurt.writeUInt8((hurt[at] as number) ^ 0x10, at);
        for (const content of [hurt, bytes.subarray(0, at)]) {
          await writeFile(path, content);
          const read = await opened(folder);
          sameFrames(read.capture);
          expect(read.from).toBe('file');
          expect(read.notes).toEqual([`The cache of ${NAME} was damaged and is made anew.`]);
          expect((await opened(folder)).from).toBe('cache');
        }
      }
    }
  }, 30_000);

  test('a foreign file in the place of the cache is not believed', async () => {
    const folder = buildWith();
    await opened(folder);
    for (const name of cacheOf(folder))
      await writeFile(join(folder, '.cache/captures', name), '{"form":"else/1"}');
    const read = await opened(folder);
    expect(read.notes).toEqual([`The cache of ${NAME} was damaged and is made anew.`]);
    sameFrames(read.capture);
  });

  test('caches of captures that are gone are removed when the next is written', async () => {
    const folder = buildWith();
    await opened(folder);
    await writeFile(join(folder, 'captures/next.csv'), written(text, CAPTURE));
    await unlink(join(folder, 'captures', NAME));
    await opened(folder, 'next.csv');
    expect(cacheOf(folder).filter((name) => !name.startsWith('next.csv'))).toEqual([]);
  });

  test('where no cache can be written the frames are there all the same', async () => {
    const folder = buildWith();
    await writeFile(join(folder, '.cache'), 'a file, not a folder');
    const read = await opened(folder);
    expect(read.cached).toBe('not possible');
    sameFrames(read.capture);
  });

  test('processes that open, delete and write the same cache at once all get the frames', async () => {
    // Compiles what changed, as any start of the program does.
    expect(bywright('--version').code).toBe(0);
    const folder = buildWith();
    const script = `
      const { openCapture } = await import(${JSON.stringify(pathToFileURL(join(process.cwd(), 'dist/src/build/cache/openCapture.js')).href)});
      const { rmSync } = await import('node:fs');
      const counts = new Set();
      for (let k = 0; k < 6; k++) {
        const read = await openCapture(${JSON.stringify(folder)}, ${JSON.stringify(NAME)}, { leastFrames: 0 });
        counts.add(read.capture.count + ' ' + read.capture.payload.reduce((a, b) => a + b, 0) + read.notes.join());
        await read.cached;
        while (process.argv[1] === '1' && k % 2) {
          try {
            rmSync(${JSON.stringify(join(folder, '.cache'))}, { recursive: true, force: true });
            break;
          } catch (error) {
            // Another process has written into the folder meanwhile: once more.
            if (error.code !== 'ENOTEMPTY') throw error;
          }
        }
      }
      console.log([...counts].join('|'));`;
    const run = (which: number) =>
      new Promise<string>((resolve) => {
        const child = spawn(process.execPath, ['--input-type=module', '-e', script, String(which)]);
        let out = '';
        child.stdout.on('data', (part) => (out += part));
        child.stderr.on('data', (part) => (out += part));
        child.on('close', () => resolve(out.trim()));
      });
    const sum = CAPTURE.payload.reduce((a, b) => a + b, 0);
    expect(await Promise.all([run(0), run(1), run(2)])).toEqual(Array(3).fill(`3000 ${sum}`));
  }, 60_000);
});
