/**
 * How fast signals are decoded and check fields verified, as ratios against named peers on the same payloads in the same
 * run: numpy decoding the same two fields from an array of payloads, and a CRC formed bit by bit.
 * Run: node dist/bench/decode.js [frames]
 */
import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { checkFunction } from '../src/can/check.ts';
import { CaptureBuilder } from '../src/capture/store.ts';
import { decodeSignal, messageFrames } from '../src/dictionary/decode.ts';
import type { Check, Message, Signal } from '../src/dictionary/model.ts';

const SEED = 20261125;
const REPEATS = 5;
const frames = Number(process.argv[2] ?? 1_000_000);

const plain = { signed: true, offset: 0, unit: '', state: 'accepted' } as const;
const little: Signal = { ...plain, name: 'little', start: 5, length: 16, byteOrder: 'little', scale: 0.01 };
const big: Signal = { ...plain, name: 'big', start: 35, length: 12, byteOrder: 'big', scale: 0.05 };
const check: Check = {
  start: 56,
  length: 8,
  byteOrder: 'little',
  algorithm: 'crc',
  width: 8,
  poly: 0x1d,
  init: 0xff,
  xorout: 0xff,
  reflected: false,
  covers: [0, 1, 2, 3, 4, 5, 6],
  prefix: [],
  suffix: [],
  idBytes: [],
  perCounter: null,
};
const message: Message = {
  name: 'bench',
  id: 0x123,
  extended: false,
  length: 8,
  periodMs: 10,
  signals: [little, big],
  check,
};

const builder = new CaptureBuilder(frames);
const data = new Uint8Array(8);
let state = SEED;
for (let i = 0; i < frames; i++) {
  for (let k = 0; k < 8; k++) {
    // xorshift32 (Marsaglia 2003)
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    data[k] = state;
  }
  builder.add(i / 100, 0, 0x123, 0, 8, data, 0, 8);
}
const capture = builder.finish();
const chosen = messageFrames(capture, 0, message);
console.log(`seed ${SEED}, ${frames} frames of 8 bytes, node ${process.version}`);

for (const signal of [little, big]) {
  const own = best(() => decodeSignal(capture, chosen, message, signal).value.length);
  const peer = numpy(signal);
  const words = `${signal.length} bits, ${signal.byteOrder}-endian, signed`;
  console.log(
    `decode, ${words}: ${rate(own)}${peer ? `; ${(peer / own).toFixed(2)} × numpy's ${rate(peer)}` : ''}`,
  );
}

const expected = checkFunction(check);
const table = best(() => sumOver((from) => expected(0x123, capture.payload, from, 8)));
const bits = best(() => sumOver(bitByBit));
console.log(`CRC-8 over 7 bytes: ${rate(table)}; ${(bits / table).toFixed(1)} × bit by bit, ${rate(bits)}`);

function sumOver(value: (from: number) => number): number {
  let sum = 0;
  for (let i = 0; i < frames; i++) sum += value(8 * i);
  return sum;
}

function bitByBit(from: number): number {
  let r = 0xff;
  for (let i = 0; i < 7; i++) {
    r ^= capture.payload[from + i] as number;
    for (let k = 0; k < 8; k++) r = r & 0x80 ? ((r << 1) ^ 0x1d) & 0xff : r << 1;
  }
  return r ^ 0xff;
}

function best(run: () => unknown): number {
  let least = Number.POSITIVE_INFINITY;
  for (let k = 0; k < REPEATS; k++) {
    const start = performance.now();
    run();
    least = Math.min(least, (performance.now() - start) / 1000);
  }
  return least;
}

function rate(seconds: number): string {
  return `${(frames / seconds / 1e6).toFixed(1)} M/s`;
}

/** Seconds that numpy takes for the same field of the same payloads; null where it is not there. */
function numpy(signal: Signal): number | null {
  const folder = mkdtempSync(join(tmpdir(), 'bywright-bench-'));
  const file = join(folder, 'payloads');
  writeFileSync(file, capture.payload);
  const order = signal.byteOrder === 'little' ? '<u8' : '>u8';
  const big = 8 * (signal.start >> 3) + 7 - (signal.start & 7);
  const shift = signal.byteOrder === 'little' ? signal.start : 64 - big - signal.length;
  const script = `
import sys, time
import numpy as np
raw = np.fromfile(sys.argv[1], dtype=np.uint8).reshape(-1, 8)
best = 1e9
for _ in range(${REPEATS}):
    start = time.perf_counter()
    word = np.ascontiguousarray(raw).view('${order}').reshape(-1)
    field = ((word >> np.uint64(${shift})) & np.uint64(${2 ** signal.length - 1})).astype(np.int64)
    value = np.where(field >= ${2 ** (signal.length - 1)}, field - ${2 ** signal.length}, field) * ${signal.scale}
    moment = np.arange(len(value)) / 100
    valid = np.ones(len(value), dtype=np.uint8)
    best = min(best, time.perf_counter() - start)
print(best)
`;
  const done = spawnSync('python3', ['-c', script, file], { encoding: 'utf8' });
  rmSync(folder, { recursive: true, force: true });
  if (done.status === 0) return Number(done.stdout.trim());
  console.log('numpy: not found (Debian package python3-numpy)');
  return null;
}
