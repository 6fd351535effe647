import {
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { chmod, mkdir, mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { constants, gunzipSync, gzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest';
import { type CaptureDisk, readCaptureFile, writeCaptureFile } from '../../src/build/captureFile.ts';
import { Spill } from '../../src/build/spill.ts';
import { FLAG } from '../../src/can/frame.ts';
import { mdf4 } from '../../src/capture/formats/mdf4.ts';
import { pcap } from '../../src/capture/formats/pcap.ts';
import { text } from '../../src/capture/formats/text.ts';
import { CaptureBuilder } from '../../src/capture/store.ts';
import { captureOf, differences, type Frame, frame, readBytes, written } from '../capture/frames.ts';

let folder = '';
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'bywright-capture-'));
});
afterAll(() => rm(folder, { recursive: true }));

const FRAMES: Frame[] = Array.from({ length: 60_000 }, (_, n) =>
  frame(
    1_700_000_000_000_000_000n + BigInt(n) * 250_000n,
    0x100 + ((n * 7) % 40),
    [n & 255, (n >> 8) & 255, 1, 2, 3, 4, 5, (n * 31) & 255],
    {
      flags: n % 5 === 0 ? FLAG.extended : 0,
    },
  ),
);

const CAPTURE = captureOf(FRAMES);

async function put(name: string, bytes: Uint8Array | string): Promise<string> {
  const path = join(folder, name);
  await writeFile(path, bytes);
  return path;
}

describe('reading', () => {
  test.each(['pcap', 'pcapng', 'mf4', 'csv'])(
    '%s is recognised by its content, whatever the file is called',
    async (ending) => {
      const original = join(folder, `right.${ending}`);
      await writeCaptureFile(original, CAPTURE);
      const path = await put('wrong.name', await readFile(original));
      const { capture, format, notes } = await readCaptureFile(path);
      expect(format).toBe(({ csv: 'text', mf4: 'mdf4' } as Record<string, string>)[ending] ?? ending);
      expect(differences(capture, CAPTURE)).toEqual([]);
      expect(notes).toEqual([]);
    },
  );

  test.each(['pcap', 'pcapng', 'mf4', 'csv'])('%s packed with gzip is unpacked', async (ending) => {
    const original = join(folder, `plain.${ending}`);
    await writeCaptureFile(original, CAPTURE);
    const { capture, guess } = await readCaptureFile(await put('packed', gzipSync(await readFile(original))));
    expect(differences(capture, CAPTURE)).toEqual([]);
    expect(guess).toMatch(/^gzip, /);
  });

  test('gzip in several members is one recording', async () => {
    const bytes = written(text, CAPTURE);
    const members = [gzipSync(bytes.subarray(0, 1000)), gzipSync(bytes.subarray(1000))];
    const { capture } = await readCaptureFile(await put('members.gz', Buffer.concat(members)));
    expect(capture.count).toBe(FRAMES.length);
  });

  test('packed data that ends too early keeps what can be unpacked, and says so', async () => {
    const packed = gzipSync(written(pcap, CAPTURE));
    const { capture, notes } = await readCaptureFile(
      await put('cut.gz', packed.subarray(0, packed.length >> 1)),
    );
    const unpacked = gunzipSync(packed.subarray(0, packed.length >> 1), {
      finishFlush: constants.Z_SYNC_FLUSH,
    });
    // 24 bytes of file header, then 32 bytes a frame.
    expect(capture.count).toBe(Math.floor((unpacked.length - 24) / 32));
    expect(differences(capture, captureOf(FRAMES.slice(0, capture.count)))).toEqual([]);
    expect(notes[0]).toMatch(
      /^The gzip data ends too early: what was before the cut is kept, [\d,]+ frames in [\d.]+ s; what came behind is missing\.$/,
    );
  });

  test('damaged packed data keeps what is before the damage, and says so', async () => {
    const packed = gzipSync(written(pcap, CAPTURE));
    packed.fill(0xff, packed.length - 20_000, packed.length - 19_000);
    const { capture, notes } = await readCaptureFile(await put('damaged.gz', packed));
    expect(capture.count).toBeGreaterThan(0);
    expect(capture.count).toBeLessThan(FRAMES.length);
    expect(notes[0]).toMatch(
      /^The gzip data is damaged \(.*\): what was before is kept, [\d,]+ frames in [\d.]+ s; what came behind is missing\.$/,
    );
  });

  test('progress runs to the end of the file and frames are counted', async () => {
    const path = join(folder, 'progress.pcap');
    await writeCaptureFile(path, CAPTURE);
    const seen: [number, number, number][] = [];
    await readCaptureFile(path, { onProgress: (...args) => seen.push(args) });
    const size = (await readFile(path)).length;
    expect(seen.at(-1)).toEqual([size, size, FRAMES.length]);
    expect(seen.map(([done]) => done)).toEqual(seen.map(([done]) => done).sort((a, b) => a - b));
  });

  test('an abort ends the reading with its reason', async () => {
    const path = join(folder, 'abort.pcap');
    await writeCaptureFile(path, CAPTURE);
    await expect(readCaptureFile(path, { signal: AbortSignal.abort(new Error('enough')) })).rejects.toThrow(
      'enough',
    );
    const stop = new AbortController();
    const reading = readCaptureFile(path, {
      signal: stop.signal,
      onProgress: () => stop.abort(new Error('no more')),
    });
    await expect(reading).rejects.toThrow('no more');
  });

  test('columns and format can be named', async () => {
    const path = await put('odd.txt', '100 7 0011\n250 8 0022\n');
    const { capture } = await readCaptureFile(path, { columns: 'time:ms,id:dec,data' });
    expect([...capture.time]).toEqual([0.1, 0.25]);
    await expect(readCaptureFile(path, { format: 'pcap' })).rejects.toThrow(
      /odd\.txt: This is not pcap: it starts with 31 30 30 20/,
    );
    await expect(readCaptureFile(path, { format: 'wav' })).rejects.toThrow(
      '"wav" is no format of recordings; known are pcap, pcapng, mdf4, text, parquet.',
    );
  });

  test('what cannot be read is said in one sentence with the name of the file', async () => {
    await expect(readCaptureFile(join(folder, 'nothing.csv'))).rejects.toThrow(
      /nothing\.csv: there is no such file\.$/,
    );
    await expect(readCaptureFile(folder)).rejects.toThrow(/: this is a folder; a recording is a file\.$/);
    await expect(readCaptureFile(await put('empty.csv', ''))).rejects.toThrow(
      /empty\.csv: The recording is empty: 0 bytes\.$/,
    );
    await expect(readCaptureFile(await put('empty.gz', gzipSync('')))).rejects.toThrow(
      /empty\.gz: The recording is empty: 0 bytes\.$/,
    );
    await expect(readCaptureFile(await put('stub.gz', Uint8Array.of(0x1f, 0x8b)))).rejects.toThrow(
      /stub\.gz: /,
    );
    await expect(
      readCaptureFile(await put('picture', Uint8Array.of(0x89, 80, 78, 71, 13, 10, 26, 10, 0, 0))),
    ).rejects.toThrow(/picture: This is no recording that can be read: byte 6 is 0x1A/);
  });
});

describe('writing', () => {
  test('the ending of the name chooses the format', async () => {
    for (const [name, format] of [
      ['a.pcap', 'pcap'],
      ['a.PCAPNG', 'pcapng'],
      ['a.csv', 'text'],
      ['a.mf4', 'mdf4'],
    ] as const) {
      await writeCaptureFile(join(folder, name), captureOf(FRAMES.slice(0, 3)));
      expect((await readCaptureFile(join(folder, name))).format).toBe(format);
    }
    await expect(writeCaptureFile(join(folder, 'a.doc'), CAPTURE)).rejects.toThrow(
      /a\.doc: this ending is no format that can be written; known are pcap \(\.pcap/,
    );
  });

  test('MDF 4 is packed where that is asked for; formats that cannot be packed say so', async () => {
    const plain = join(folder, 'plain.mf4');
    const packed = join(folder, 'packed.mf4');
    await writeCaptureFile(plain, CAPTURE);
    await writeCaptureFile(packed, CAPTURE, undefined, undefined, { packing: 'transposed' });
    expect((await readFile(packed)).length).toBeLessThan((await readFile(plain)).length / 2);
    const { capture, guess } = await readCaptureFile(packed);
    expect(differences(capture, CAPTURE)).toEqual([]);
    expect(guess).toBe('MDF 4.10, CAN data frames, sorted, packed');
    await expect(
      writeCaptureFile(join(folder, 'a.pcap'), CAPTURE, undefined, undefined, { packing: 'deflate' }),
    ).rejects.toThrow(/a\.pcap: pcap is not packed inside; formats that can be are mdf4 \(\.mf4\)\.$/);
  });

  test('a capture that the format cannot hold leaves nothing behind and an older file as it was', async () => {
    const path = await put('kept.pcap', 'older');
    const mixed = captureOf([frame(0, 1, []), frame(1, 2, [], { bus: 1 })]);
    await expect(writeCaptureFile(path, mixed)).rejects.toThrow(
      /kept\.pcap: Frame 1 is of bus 1, frame 0 of bus 0: pcap holds one bus/,
    );
    expect(await readFile(path, 'utf8')).toBe('older');
    expect(readdirSync(folder).filter((name) => name.endsWith('.tmp'))).toEqual([]);
  });

  test.each([
    ['ENOSPC', /x\.csv: the disk is full; free some space and try again, nothing was written\.$/],
    ['EROFS', /x\.csv: the disk is read-only; nothing was written\.$/],
  ])('%s on the second piece leaves nothing behind and is said in one sentence', async (code, words) => {
    let written = 0;
    const disk: CaptureDisk = {
      async write(file, piece) {
        if (written++ === 1) throw Object.assign(new Error(code), { code });
        await file.write(piece);
      },
    };
    const inside = join(folder, `failing-${code}`);
    await mkdir(inside);
    await expect(writeCaptureFile(join(inside, 'x.csv'), CAPTURE, 'text', disk)).rejects.toThrow(words);
    expect(written).toBe(2);
    expect(readdirSync(inside)).toEqual([]);
  });

  test('a folder that is not there, or may not be written, is named', async () => {
    await expect(writeCaptureFile(join(folder, 'none', 'x.csv'), CAPTURE)).rejects.toThrow(
      /none.x\.csv: its folder is not there; make it first/,
    );
    if (process.getuid?.() === 0) return;
    const closed = join(folder, 'closed');
    await mkdir(closed);
    await chmod(closed, 0o500);
    await expect(writeCaptureFile(join(closed, 'x.csv'), CAPTURE)).rejects.toThrow(/this user may not/);
  });
});

/** Real recordings; columns must come out the same when the header line is taken away and all must be inferred. */
const DATA = join(import.meta.dirname, '../../../shared/data');
const RECORDINGS = ['boat-11', 'car-500k', 'light-truck', 'tractor', 'truck-j1939'];
const COUNTS: Record<string, number> = {
  // SOURCE.md of each folder.
  'boat-11/run-a.csv.gz': 52_517,
  'boat-11/run-b.csv.gz': 9_600,
  'car-500k/drive-b.csv.gz': 33_005,
};

describe('real recordings', () => {
  if (!existsSync(DATA)) {
    test.skipIf(!process.env.CI)(
      'the folder of real recordings is there (skipped: ../shared/data is absent)',
      () => {
        expect(existsSync(DATA)).toBe(true);
      },
    );
    return;
  }
  const files = RECORDINGS.flatMap((name) =>
    readdirSync(join(DATA, name))
      .filter((file) => file.endsWith('.csv.gz'))
      .map((file) => `${name}/${file}`),
  );

  test.each(files)('%s is read line by line, with a header line and without', async (file) => {
    const content = gunzipSync(await readFile(join(DATA, file)));
    const lines = content.toString('latin1').trimEnd().split('\n').slice(1);
    const { capture, notes } = await readCaptureFile(join(DATA, file));
    expect(notes).toEqual([]);
    expect(capture.count).toBe(COUNTS[file] ?? lines.length);
    for (const i of [0, 1, 4711 % capture.count, capture.count - 1]) {
      const [t, bus, id, ext, data] = (lines[i] as string).split(',');
      const from = capture.offset[i] as number;
      expect({
        t: capture.time[i],
        bus: capture.bus[i],
        id: capture.id[i],
        ext: (capture.flags[i] as number) & FLAG.extended,
        data: Buffer.from(capture.payload.subarray(from, from + (capture.length[i] as number))).toString(
          'hex',
        ),
      }).toEqual({
        t: Number(t),
        bus: Number(bus),
        id: Number.parseInt(id as string, 16),
        ext: Number(ext),
        data,
      });
    }
    const headless = readBytes(text, content.subarray(content.indexOf(10) + 1), [65_536]);
    expect(differences(headless.capture, capture)).toEqual([]);
  });

  test.each([
    ['boat-steering/wide-turn.csv.gz', 't, source, n, signal, value name no identifier'],
    ['boat-steering/pilot-rudder-order.csv.gz', 't, source, signal, value hold no payload'],
    ['drive-obd/motion-a.csv.gz', 'name no identifier'],
    ['drive-obd/obd-a.csv.gz', 't, pid, name, unit, value, raw name no identifier'],
    ['tractor/crc15-frames.csv', 'id, data, crc15 name no time'],
  ])('%s holds decoded values or no time and is refused as a recording of frames', async (file, words) => {
    if (!existsSync(join(DATA, file))) throw new Error(`${file} is missing`);
    await expect(readCaptureFile(join(DATA, file))).rejects.toThrow(words);
  });
});

describe('a format that is read as a whole file', () => {
  const frames = Array.from({ length: 4000 }, (_, n) => frame(BigInt(n) * 1_000_000n, n % 0x7ff, [n & 255]));
  test('is unpacked from gzip into a temporary file, read, and the file removed', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'bywright-whole-'));
    const temporary = join(folder, 'temporary');
    mkdirSync(temporary);
    // A folder of its own, since other tests use the common one at the same time.
    vi.stubEnv('TMPDIR', temporary);
    try {
      const capture = captureOf(frames);
      await writeCaptureFile(join(folder, 'a.parquet'), capture);
      const packed = gzipSync(readFileSync(join(folder, 'a.parquet')));
      writeFileSync(join(folder, 'a.parquet.gz'), packed);
      for (const format of [undefined, 'parquet']) {
        const read = await readCaptureFile(join(folder, 'a.parquet.gz'), { format });
        expect(differences(read.capture, capture)).toEqual([]);
        expect([read.format, read.guess]).toEqual(['parquet', 'gzip, Parquet, 4000 rows']);
      }
      writeFileSync(join(folder, 'half.gz'), packed.subarray(0, packed.length >> 1));
      await expect(readCaptureFile(join(folder, 'half.gz'))).rejects.toThrow(
        `${join(folder, 'half.gz')}: The gzip data ends too early, and parquet cannot be read without its end: copy the file again.`,
      );
      const stop = AbortSignal.abort(new Error('enough'));
      await expect(readCaptureFile(join(folder, 'a.parquet.gz'), { signal: stop })).rejects.toThrow('enough');
      expect(readdirSync(temporary)).toEqual([]);
    } finally {
      vi.unstubAllEnvs();
      rmSync(folder, { recursive: true });
    }
  });

  test('is given up where more comes out than may be put aside', () => {
    const spill = new Spill(1000);
    spill.push(new Uint8Array(900));
    expect(() => spill.push(new Uint8Array(101))).toThrow(/larger than .* GiB: unpack it yourself/);
    spill.remove();
    expect(existsSync(spill.path)).toBe(false);
  });
});

describe('MDF 4, which is read at its end', () => {
  const many = captureOf(
    Array.from({ length: 300_000 }, (_, n) =>
      frame(
        BigInt(n) * 100_000n,
        n % 0x7ff,
        [n & 255, n >> 8, 1, 2, 3, 4, 5, 6].map((b) => b & 255),
        {
          flags: n % 3 === 0 ? FLAG.error : 0,
        },
      ),
    ),
  );

  test('tells how far it is in steps, and in parts that stand for its work', () => {
    const reader = mdf4.open(new CaptureBuilder());
    for (const piece of mdf4.write?.(many, { packing: 'deflate' }) ?? []) reader.push(piece);
    const shares = [...(reader.ending?.() ?? [])];
    expect(shares.length).toBeGreaterThan(6);
    expect(shares).toEqual([...shares].sort((a, b) => a - b));
    expect(shares[0]).toBeLessThan(0.4);
    expect(shares.at(-1)).toBeGreaterThan(0.9);
    expect(shares.at(-1)).toBeLessThanOrEqual(1);
  });

  test('can be given up there, and shows its progress up to then', async () => {
    const path = join(folder, 'long.mf4');
    await writeCaptureFile(path, many, undefined, undefined, { packing: 'transposed' });
    const stop = new AbortController();
    const shares: number[] = [];
    const onProgress = (done: number, total: number) => {
      shares.push(done / total);
      // Only the end of the work goes beyond a tenth.
      if (done / total > 0.11) stop.abort(new Error('enough'));
    };
    await expect(readCaptureFile(path, { signal: stop.signal, onProgress })).rejects.toThrow('enough');
    expect(shares).toEqual([...shares].sort((a, b) => a - b));
    expect(shares.at(-1)).toBeLessThan(1);
    const whole: number[] = [];
    const read = await readCaptureFile(path, { onProgress: (done, total) => whole.push(done / total) });
    expect(read.capture.count).toBe(300_000);
    expect(whole.at(-1)).toBe(1);
  });
});

describe('a writing that is given up', () => {
  test.each(['a.mf4', 'a.pcapng', 'a.pcap', 'a.csv', 'a.parquet'])('leaves nothing of %s', async (name) => {
    const path = join(folder, `stopped-${name}`);
    const stop = new AbortController();
    let pieces = 0;
    const disk: CaptureDisk = {
      async write() {
        if (++pieces === 2) stop.abort(new Error('enough'));
      },
    };
    // Parquet is not written in pieces: it looks at the signal itself.
    if (name === 'a.parquet') stop.abort(new Error('enough'));
    const writing = writeCaptureFile(path, CAPTURE, undefined, disk, { signal: stop.signal });
    await expect(writing).rejects.toThrow('enough');
    expect(readdirSync(folder).filter((entry) => entry.includes('stopped-'))).toEqual([]);
  });

  test('says before how many frames are in it', async () => {
    for (const name of ['b.mf4', 'b.csv', 'b.parquet']) {
      const seen: number[] = [];
      await writeCaptureFile(join(folder, name), CAPTURE, undefined, undefined, {
        onProgress: (done, total) => {
          expect(total).toBe(CAPTURE.count);
          seen.push(done);
        },
      });
      expect(seen).toEqual([...seen].sort((a, b) => a - b));
      expect(seen.at(-1)).toBe(CAPTURE.count);
    }
  });
});
