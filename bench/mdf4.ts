/**
 * How fast MDF 4 is read and written, as ratios to our own pcapng reader on the same frames in the same run: plain, packed
 * with deflate, and packed with transposition. From bytes in memory, so that the disk plays no part; the readers take
 * turns, so that a busy machine slows both.
 * Run: node dist/bench/mdf4.js [frames]
 */
import type { CaptureFormat, Packing } from '../src/capture/formats/format.ts';
import { mdf4 } from '../src/capture/formats/mdf4.ts';
import { pcapng } from '../src/capture/formats/pcapng.ts';
import { writeMdf } from '../src/capture/mdf/write.ts';
import { type Capture, CaptureBuilder } from '../src/capture/store.ts';
import { xorshift32 } from './xorshift.ts';

const SEED = 20080611;
const REPEATS = 5;
/** As a file is handed over. */
const PIECE = 1 << 20;
const frames = Number(process.argv[2] ?? 2_000_000);

interface Case {
  name: string;
  format: CaptureFormat;
  file: Uint8Array;
  writeSeconds: number;
  best: number;
}

console.log(`seed ${SEED}, ${frames} frames of 8 bytes, 40 identifiers, node ${process.version}`);
const capture = traffic(frames);
const cases: Case[] = [
  made('pcapng', pcapng, () => pcapng.write?.(capture) ?? []),
  ...(['none', 'deflate', 'transposed'] as Packing[]).map((packing) =>
    made(packing === 'none' ? 'MDF 4, plain' : `MDF 4, ${packing}`, mdf4, () =>
      writeMdf(capture, { packing }),
    ),
  ),
];
for (let k = 0; k < REPEATS; k++) {
  for (const one of cases) one.best = Math.min(one.best, readSeconds(one));
}
const peer = cases[0] as Case;
for (const { name, file, best, writeSeconds } of cases) {
  const ratio = name === 'pcapng' ? '' : `; ${(peer.best / best).toFixed(2)} × our pcapng reader`;
  console.log(
    `${name}: ${(file.length / 1e6).toFixed(0)} MB, read ${rate(best)} best of ${REPEATS}, written ${rate(writeSeconds)}${ratio}`,
  );
}

function made(name: string, format: CaptureFormat, write: () => Iterable<Uint8Array>): Case {
  const start = process.cpuUsage();
  const pieces = [...write()];
  const writeSeconds = process.cpuUsage(start).user / 1e6;
  const file = new Uint8Array(pieces.reduce((sum, piece) => sum + piece.length, 0));
  let at = 0;
  for (const piece of pieces) {
    file.set(piece, at);
    at += piece.length;
  }
  return { name, format, file, writeSeconds, best: Number.POSITIVE_INFINITY };
}

/** Processor seconds, so that a machine that is shared does not bend the ratio. */
function readSeconds({ name, format, file }: Case): number {
  const into = new CaptureBuilder(Math.ceil((file.length + 4 * PIECE) / 32));
  const start = process.cpuUsage();
  const reader = format.open(into);
  for (let at = 0; at < file.length; at += PIECE) reader.push(file.subarray(at, at + PIECE));
  reader.end();
  const { user, system } = process.cpuUsage(start);
  const read = into.finish();
  if (read.count !== frames || read.time[frames - 1] !== capture.time[frames - 1]) {
    throw new Error(`${name}: ${read.count} frames of ${frames} were read back`);
  }
  return (user + system) / 1e6;
}

function rate(seconds: number): string {
  return `${(frames / seconds / 1e6).toFixed(2)} M frames/s`;
}

/** Random traffic of periodic length and random content on one bus. */
function traffic(count: number): Capture {
  const builder = new CaptureBuilder(count);
  builder.originNs = 1_700_000_000_123_456_789n;
  const random = xorshift32(SEED);
  const data = new Uint8Array(8);
  const view = new DataView(data.buffer);
  let ns = 0;
  for (let i = 0; i < count; i++) {
    if (i > 0) ns += 200_000 + (random() % 100_000);
    const extended = random() % 4 === 0;
    const id = extended ? 0x0cf0_0400 + (random() % 20) : 0x100 + (random() % 20) * 16;
    // Half of the payload changes, as in real traffic; the rest is still.
    view.setUint32(0, random());
    builder.add(ns / 1e9, 0, id, extended ? 1 : 0, 8, data, 0, 8);
  }
  return builder.finish();
}
