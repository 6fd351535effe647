/**
 * The store of captures, as ratios in one run on the same files: reading text against DuckDB's own CSV reader, opening from
 * the cache against the first import for each kind of file, and memory for each frame above the bare process.
 * Run: node dist/bench/store.js [frames]
 */
import { execFileSync } from 'node:child_process';
import { createReadStream, createWriteStream, mkdirSync, mkdtempSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pipeline } from 'node:stream/promises';
import { fileURLToPath } from 'node:url';
import { createGzip } from 'node:zlib';
import { openCapture } from '../src/build/cache/openCapture.ts';
import { readCaptureFile, writeCaptureFile } from '../src/build/captureFile.ts';
import { FILE_FORMATS } from '../src/build/fileFormats.ts';
import { openDuckDb, quoted } from '../src/build/parquet/duckdb.ts';
import { FORMATS } from '../src/capture/formats/list.ts';
import { type Capture, CaptureBuilder } from '../src/capture/store.ts';
import { inTurns, median, type Timing, times } from './turns.ts';
import { xorshift32 } from './xorshift.ts';

const SEED = 20261125;
const TURNS = 7;

const [task, ...rest] = process.argv.slice(2);
if (task === 'memory') await reportMemory(...(rest as [string, string]));
else await measure(Number(task ?? 5_000_000));

async function measure(frames: number): Promise<void> {
  const folder = mkdtempSync(join(tmpdir(), 'bywright-bench-'));
  try {
    mkdirSync(join(folder, 'captures'));
    const at = (name: string) => join(folder, 'captures', name);
    console.log(`seed ${SEED}, ${frames} frames of 8 bytes, 40 identifiers, node ${process.version}`);
    await writeFiles(folder, frames);

    await textAgainstDuckDb(at('traffic.csv'), frames);
    await reopening(folder, frames);
    for (const name of ['traffic.csv', 'traffic.pcapng', 'traffic.parquet'])
      memory(folder, name, 'file', frames);
    memory(folder, 'traffic.csv', 'cache', frames);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

/** Both read the file in turns; by the clock, and by the time of all processors used. */
async function textAgainstDuckDb(path: string, frames: number): Promise<void> {
  const [ours, duckDb] = (await inTurns(TURNS, [
    () => readCaptureFile(path),
    () => readByDuckDb(path, frames),
  ])) as [Timing, Timing];
  console.log(
    `text: ${rate(frames, median(ours.clock))}, ${median(ours.processor).toFixed(2)} s of processor time; DuckDB's CSV reader into a table of the same columns: ${rate(frames, median(duckDb.clock))}, ${median(duckDb.processor).toFixed(2)} s on all processors; ours is ${times(duckDb.clock, ours.clock)} as fast by the clock (target ≥ 1), ${times(duckDb.processor, ours.processor)} by processor time`,
  );
}

/** The same traffic in every format, and two of them packed. */
async function writeFiles(folder: string, frames: number): Promise<void> {
  const capture = traffic(frames);
  const formats = [...FORMATS.filter((f) => f.write), ...FILE_FORMATS];
  for (const { extensions } of formats)
    await writeCaptureFile(join(folder, 'captures', `traffic${extensions[0]}`), capture);
  for (const name of ['traffic.csv', 'traffic.pcapng']) {
    const path = join(folder, 'captures', name);
    await pipeline(createReadStream(path), createGzip({ level: 1 }), createWriteStream(`${path}.gz`));
  }
}

/** First import, again, and from the cache, for every kind of file: whether the cache pays is read off here. */
async function reopening(folder: string, frames: number): Promise<void> {
  const all = [...FORMATS.filter((f) => f.write), ...FILE_FORMATS].map((f) => `traffic${f.extensions[0]}`);
  for (const name of [
    'traffic.csv',
    'traffic.csv.gz',
    ...all.filter((n) => n !== 'traffic.csv'),
    'traffic.pcapng.gz',
  ]) {
    const path = join(folder, 'captures', name);
    const megabytes = (statSync(path).size / 1e6).toFixed(0);
    const started = performance.now();
    const [cached] = await firstImport(folder, name);
    const firstS = (performance.now() - started) / 1000;
    if ((await cached) !== 'written') {
      const [own] = (await inTurns(TURNS, [() => readCaptureFile(path)])) as [Timing];
      console.log(
        `${name}, ${megabytes} MB: first import ${firstS.toFixed(2)} s, again ${median(own.clock).toFixed(2)} s; not cached, its own reader is about as quick`,
      );
      continue;
    }
    const [again, cache] = (await inTurns(TURNS, [
      () => readCaptureFile(path),
      async () => {
        const { from, capture } = await openCapture(folder, name);
        if (from !== 'cache' || capture.count !== frames) throw new Error(`${name}: not from the cache`);
      },
    ])) as [Timing, Timing];
    console.log(
      `${name}, ${megabytes} MB: first import ${firstS.toFixed(2)} s, again ${median(again.clock).toFixed(2)} s, from the cache ${median(cache.clock).toFixed(3)} s: ${times(again.clock, cache.clock)} as fast as the import (target ≥ 5)`,
    );
  }
}

/** Gives what becomes of the cache, without the capture: that would be held while others are measured. */
async function firstImport(folder: string, name: string): Promise<Promise<string>[]> {
  return [(await openCapture(folder, name)).cached];
}

/** DuckDB's own reader into a table, the columns typed and the payload as bytes, as a capture holds them. */
async function readByDuckDb(path: string, frames: number): Promise<void> {
  const db = await openDuckDb();
  try {
    await db.connection.run(
      `create table frames as select t, bus, ('0x' || id)::uinteger as id, ext, unhex(data) as data
        from read_csv(${quoted(path)}, header = true, columns = {t: 'DOUBLE', bus: 'UTINYINT', id: 'VARCHAR', ext: 'UTINYINT', data: 'VARCHAR'})`,
    );
    const count = (await db.connection.runAndReadAll('select count(*) from frames')).getRows()[0]?.[0];
    if (Number(count) !== frames) throw new Error(`DuckDB read ${count} rows`);
  } finally {
    db.close();
  }
}

/** Memory of a process that holds the capture, in a process of its own. */
function memory(folder: string, name: string, from: 'file' | 'cache', frames: number): void {
  const out = execFileSync(
    process.execPath,
    [
      '--expose-gc',
      fileURLToPath(import.meta.url),
      'memory',
      folder,
      from === 'cache' ? `cache:${name}` : name,
    ],
    { encoding: 'utf8' },
  );
  const { held } = JSON.parse(out) as { held: number };
  console.log(
    `memory, ${name} from ${from}: ${(held / frames).toFixed(1)} bytes a frame held above the bare process (target ≤ 40)`,
  );
}

async function reportMemory(folder: string, what: string): Promise<void> {
  const gc = (globalThis as { gc?: () => void }).gc as () => void;
  gc();
  const base = process.memoryUsage().rss;
  const cached = what.startsWith('cache:');
  const name = what.replace('cache:', '');
  const read = cached
    ? await openCapture(folder, name)
    : await readCaptureFile(join(folder, 'captures', name));
  gc();
  await new Promise((resolve) => setTimeout(resolve, 200));
  gc();
  const held = process.memoryUsage().rss - base;
  console.log(JSON.stringify({ held, frames: read.capture.count }));
}

function rate(frames: number, seconds: number): string {
  return `${(frames / seconds / 1e6).toFixed(2)} M frames/s`;
}

/**
 * Traffic as on a bus: 40 messages, each with its period, a counter, a slow signal, a noisy one and bytes that stand still.
 * Invented; drawn from xorshift32 (Marsaglia 2003).
 */
function traffic(count: number): Capture {
  const builder = new CaptureBuilder(count);
  builder.originNs = 1_700_000_000_123_456_000n;
  const random = xorshift32(SEED);
  const data = new Uint8Array(8);
  const counters = new Uint8Array(40);
  const slow = new Float64Array(40);
  let us = 0;
  for (let i = 0; i < count; i++) {
    if (i > 0) us += 200 + (random() % 100);
    const k = random() % 40;
    const extended = k >= 30;
    const id = extended ? 0x0cf0_0400 + k : 0x100 + k * 16;
    slow[k] = (slow[k] as number) + (random() % 5) - 2;
    data[0] = counters[k] = ((counters[k] as number) + 1) & 15;
    data[1] = slow[k] as number;
    data[2] = (slow[k] as number) >> 8;
    data[3] = random() & 0x1f;
    data[4] = k;
    data[7] = random();
    builder.add(us / 1e6, 0, id, extended ? 1 : 0, 8, data, 0, 8);
  }
  return builder.finish();
}
