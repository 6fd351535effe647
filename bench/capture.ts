/**
 * How fast recordings are read, as ratios against named peers on the same files in the same run, in turns:
 * tshark printing time, identifier and payload of each frame, and numpy reading the pcap as fixed-size records.
 * Run: node dist/bench/capture.js [frames]
 */
import { execFileSync, spawn, spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import { readCaptureFile, writeCaptureFile } from '../src/build/captureFile.ts';
import { type Capture, CaptureBuilder } from '../src/capture/store.ts';
import { inTurns, median, Own, type Run, type Timing, times } from './turns.ts';

const SEED = 20080611;
const TURNS = 15;

const [task, only] = process.argv.slice(2);
const frames = Number(task === 'alone' ? 0 : (task ?? 5_000_000));
const folder = mkdtempSync(join(tmpdir(), 'bywright-bench-'));
async function measure(): Promise<void> {
  console.log(`seed ${SEED}, ${frames} frames of 8 bytes, 40 identifiers, node ${process.version}`);
  const capture = traffic(frames, 'full');
  const files = ['pcap', 'pcapng', 'csv'].map((ending) => join(folder, `traffic.${ending}`));
  for (const file of files) await writeCaptureFile(file, capture);
  const [pcap, pcapng, csv] = files as [string, string, string];

  for (const file of [pcap, pcapng, csv]) await report(file.slice(file.lastIndexOf('.') + 1), file);
  const mixed = join(folder, 'mixed.pcap');
  await writeCaptureFile(mixed, traffic(frames, 'mixed'));
  await report('pcap, lengths 0 to 8', mixed);

  const numpy = await startNumpy(pcap);
  if (numpy) {
    const [own, peer] = (await inTurns(TURNS, [() => readCaptureFile(pcap), numpy.read])) as [Timing, Timing];
    numpy.end();
    console.log(
      `numpy, fixed-size records: ${rate(median(peer.clock))}, ours ${rate(median(own.clock))}: ${times(peer.clock, own.clock)} as fast by the clock (target ≥ 1.5), ${times(peer.processor, own.processor)} by processor time`,
    );
  } else console.log('numpy: not found (Debian package python3-numpy)');
  const [cold, shark] = (await inTurns(1, [() => readAlone(pcap), () => tsharkTime(pcap)])) as [
    Timing,
    Timing,
  ];
  if (Number.isFinite(shark.clock[0])) {
    console.log(
      `tshark, time, identifier and payload: ${rate(shark.clock[0] as number)}; ours is ${times(shark.clock, cold.clock)} as fast on the first, cold call of a process (target ≥ 60)`,
    );
  } else console.log('tshark: not found (Debian package tshark)');
}

async function report(what: string, file: string): Promise<void> {
  const megabytes = statSync(file).size / 1e6;
  const [{ clock }] = (await inTurns(TURNS, [() => readCaptureFile(file)])) as [Timing];
  console.log(
    `${what}: ${megabytes.toFixed(0)} MB, ${rate(median(clock))} median of ${TURNS}, ${rate(clock[0] as number)} first, ${(megabytes / median(clock)).toFixed(0)} MB/s`,
  );
}

function rate(seconds: number): string {
  return `${(frames / seconds / 1e6).toFixed(2)} M frames/s`;
}

/** What a numpy user writes for records of one size: the same columns, in memory of their own. Reads when told to by a line. */
const NUMPY = `
import sys, time
import numpy as np
record = np.dtype([('seconds', '<u4'), ('nanos', '<u4'), ('captured', '<u4'), ('original', '<u4'),
                   ('word', '>u4'), ('length', 'u1'), ('fd', 'u1'), ('spare', 'u2'), ('data', 'u1', 8)])
print('ready', flush=True)
for _ in sys.stdin:
    rows = seconds = moment = word = ident = flags = length = data = bus = offset = None
    start, used = time.perf_counter(), time.process_time()
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
    print(time.perf_counter() - start, time.process_time() - used, len(rows), flush=True)
`;

import { xorshift32 } from './xorshift.ts';

/** A python that waits; null where none has numpy. */
async function startNumpy(file: string): Promise<{ read: Run; end(): void } | null> {
  for (const python of ['python3', '/usr/bin/python3']) {
    const child = spawn(python, ['-c', NUMPY, file], { stdio: ['pipe', 'pipe', 'ignore'] });
    child.on('error', () => {});
    const lines = createInterface({ input: child.stdout })[Symbol.asyncIterator]();
    if ((await lines.next()).value !== 'ready') continue;
    const read = async () => {
      child.stdin.write('\n');
      const [clock, processor, count] = String((await lines.next()).value)
        .split(' ')
        .map(Number) as [number, number, number];
      if (count !== frames) throw new Error(`numpy read ${count} records of ${frames}`);
      return new Own(clock, processor);
    };
    return { read, end: () => child.stdin.end() };
  }
  return null;
}

/** Seconds of the first read of a process that has read nothing before. */
async function readAlone(file: string): Promise<Own> {
  const seconds = Number(
    execFileSync(process.execPath, [fileURLToPath(import.meta.url), 'alone', file], { encoding: 'utf8' }),
  );
  return new Own(seconds, seconds);
}

async function tsharkTime(file: string): Promise<Own> {
  const start = performance.now();
  const done = spawnSync(
    'tshark',
    ['-n', '-r', file, '-T', 'fields', '-e', 'frame.time_epoch', '-e', 'can.id', '-e', 'data.data'],
    { stdio: ['ignore', 'pipe', 'ignore'], maxBuffer: 4 * 2 ** 30 },
  );
  const seconds = done.status === 0 ? (performance.now() - start) / 1000 : Number.NaN;
  return new Own(seconds, seconds);
}

/** Random traffic on one bus; with full payloads, or with lengths from 0 to 8. */
function traffic(count: number, lengths: 'full' | 'mixed'): Capture {
  const builder = new CaptureBuilder(count);
  builder.originNs = 1_700_000_000_123_456_789n;
  const random = xorshift32(SEED);
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
  if (task === 'alone') {
    const start = performance.now();
    await readCaptureFile(only as string);
    console.log((performance.now() - start) / 1000);
  } else await measure();
} finally {
  rmSync(folder, { recursive: true, force: true });
}
