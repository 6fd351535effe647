/**
 * How fast recordings are read, as ratios against named peers on the same files in the same run:
 * tshark printing time, identifier and payload of each frame, and numpy reading the pcap as fixed-size records.
 * Run: node dist/bench/capture.js [frames]
 */
import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { readCaptureFile, writeCaptureFile } from '../src/build/captureFile.ts';
import { type Capture, CaptureBuilder } from '../src/capture/store.ts';

const SEED = 20080611;
const REPEATS = 5;

const frames = Number(process.argv[2] ?? 2_000_000);
const folder = mkdtempSync(join(tmpdir(), 'bywright-bench-'));
async function measure(): Promise<void> {
  console.log(`seed ${SEED}, ${frames} frames of 8 bytes, 40 identifiers, node ${process.version}`);
  const capture = traffic(frames, 'full');
  const files = ['pcap', 'pcapng', 'csv'].map((ending) => join(folder, `traffic.${ending}`));
  for (const file of files) await writeCaptureFile(file, capture);
  const [pcap, pcapng, csv] = files as [string, string, string];

  const own = await times(() => readCaptureFile(pcap));
  report('pcap', pcap, own);
  report('pcapng', pcapng, await times(() => readCaptureFile(pcapng)));
  report('text (CSV)', csv, await times(() => readCaptureFile(csv)));

  const mixed = join(folder, 'mixed.pcap');
  await writeCaptureFile(mixed, traffic(frames, 'mixed'));
  report('pcap, lengths 0 to 8', mixed, await times(() => readCaptureFile(mixed)));

  const numpy = numpyTimes(pcap);
  if (numpy) {
    console.log(
      `numpy, fixed-size records: ${rate(numpy.best)}; ours is ${ratio(numpy.best / own.best)} × as fast (target ≥ 1)`,
    );
  } else console.log('numpy: not found (Debian package python3-numpy)');
  const tshark = tsharkTime(pcap);
  if (tshark) {
    console.log(
      `tshark, time, identifier and payload: ${rate(tshark)}; ours is ${ratio(tshark / own.first)} × as fast on its first, cold call (target ≥ 40)`,
    );
  } else console.log('tshark: not found (Debian package tshark)');
}

/** Seconds of the first call and of the fastest of `REPEATS`. */
interface Timing {
  first: number;
  best: number;
}

async function times(run: () => Promise<unknown>): Promise<Timing> {
  const seconds: number[] = [];
  for (let k = 0; k < REPEATS; k++) {
    const start = performance.now();
    await run();
    seconds.push((performance.now() - start) / 1000);
  }
  return { first: seconds[0] as number, best: Math.min(...seconds) };
}

function report(what: string, file: string, timing: Timing): void {
  const megabytes = statSync(file).size / 1e6;
  console.log(
    `${what}: ${megabytes.toFixed(0)} MB, ${rate(timing.best)} best of ${REPEATS}, ${rate(timing.first)} first, ${(megabytes / timing.best).toFixed(0)} MB/s`,
  );
}

function rate(seconds: number): string {
  return `${(frames / seconds / 1e6).toFixed(2)} M frames/s`;
}

function ratio(value: number): string {
  return value.toFixed(value < 10 ? 2 : 0);
}

/** What a numpy user writes for records of one size: the same columns, in memory of their own. */
const NUMPY = `
import sys, time
import numpy as np
record = np.dtype([('seconds', '<u4'), ('nanos', '<u4'), ('captured', '<u4'), ('original', '<u4'),
                   ('word', '>u4'), ('length', 'u1'), ('fd', 'u1'), ('spare', 'u2'), ('data', 'u1', 8)])
best = 1e9
for _ in range(${REPEATS}):
    start = time.perf_counter()
    rows = np.fromfile(sys.argv[1], dtype=record, offset=24)
    seconds = rows['seconds'].astype(np.float64) - float(rows['seconds'][0])
    moment = (seconds * 1e9 + (rows['nanos'] - float(rows['nanos'][0]))) / 1e9
    word = rows['word'].astype(np.uint32)
    ident = word & 0x1fffffff
    flags = (word >> 31).astype(np.uint8)
    length = rows['length'].copy()
    data = rows['data'].copy()
    bus = np.zeros(len(rows), dtype=np.uint8)
    offset = np.arange(0, 8 * len(rows), 8, dtype=np.uint32)
    best = min(best, time.perf_counter() - start)
print(best, len(rows))
`;

function numpyTimes(file: string): { best: number } | null {
  for (const python of ['python3', '/usr/bin/python3']) {
    const done = spawnSync(python, ['-c', NUMPY, file], { encoding: 'utf8' });
    if (done.status !== 0) continue;
    const [best, count] = done.stdout.trim().split(' ').map(Number) as [number, number];
    if (count !== frames) throw new Error(`numpy read ${count} records of ${frames}`);
    return { best };
  }
  return null;
}

function tsharkTime(file: string): number | null {
  const start = performance.now();
  const done = spawnSync(
    'tshark',
    ['-n', '-r', file, '-T', 'fields', '-e', 'frame.time_epoch', '-e', 'can.id', '-e', 'data.data'],
    { stdio: ['ignore', 'pipe', 'ignore'], maxBuffer: 4 * 2 ** 30 },
  );
  if (done.status !== 0) return null;
  return (performance.now() - start) / 1000;
}

/** Random traffic on one bus; with full payloads, or with lengths from 0 to 8. */
function traffic(count: number, lengths: 'full' | 'mixed'): Capture {
  const builder = new CaptureBuilder(count);
  builder.originNs = 1_700_000_000_123_456_789n;
  let state = SEED;
  const random = (): number => {
    // xorshift32 (Marsaglia 2003)
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    return state >>> 0;
  };
  const data = new Uint8Array(8);
  let ns = 0;
  for (let i = 0; i < count; i++) {
    if (i > 0) ns += 200_000 + (random() % 100_000);
    const extended = random() % 4 === 0;
    const id = extended ? 0x0cf0_0400 + (random() % 20) : 0x100 + (random() % 20) * 16;
    for (let k = 0; k < 8; k += 4) new DataView(data.buffer).setUint32(k, random());
    const length = lengths === 'full' ? 8 : random() % 9;
    builder.add(ns / 1e9, 0, id, extended ? 1 : 0, length, data, 0, length);
  }
  return builder.finish();
}

try {
  await measure();
} finally {
  rmSync(folder, { recursive: true, force: true });
}
