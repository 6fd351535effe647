/**
 * How fast messages of several frames are put together, as a ratio to plain decoding of one signal from the same frames in
 * the same run; and how fast frames are weighed bit by bit, as a ratio to laying every bit.
 * Run: node dist/bench/transport.js [frames]
 */
import { FLAG } from '../src/can/frame.ts';
import { classicalFrameBits, stuffedBits } from '../src/can/length.ts';
import { isoTpFrames } from '../src/can/transport/isotpSend.ts';
import { conversationsOf } from '../src/capture/conversations.ts';
import { healthOf } from '../src/capture/health.ts';
import { type Capture, CaptureBuilder } from '../src/capture/store.ts';
import { decodeSignal, messageFrames } from '../src/dictionary/decode.ts';
import type { Message, Signal } from '../src/dictionary/model.ts';

const SEED = 20261125;
const REPEATS = 5;
const frames = Number(process.argv[2] ?? 2_000_000);

let state = SEED;
function random(): number {
  // xorshift32 (Marsaglia 2003)
  state ^= state << 13;
  state ^= state >>> 17;
  state ^= state << 5;
  return state >>> 0;
}

interface Load {
  name: string;
  capture: Capture;
  id: number;
  extended: boolean;
}

console.log(
  `seed ${SEED}, ${frames} frames of 8 bytes each, node ${process.version}, processor time, best of ${REPEATS}`,
);
for (const load of [
  isoTp('ISO 15765-2, messages of 8 to 400 bytes', () => 8 + (random() % 393)),
  isoTp('ISO 15765-2, messages of 4,095 bytes', () => 4095),
  isoTp('ISO 15765-2, single frames', () => 1 + (random() % 7)),
  fastPackets('NMEA 2000 fast packets of 7 to 223 bytes'),
  traffic('ordinary traffic without transfers'),
]) {
  const decoding = best(() => plain(load));
  const heard = conversationsOf(load.capture);
  const hearing = best(() => conversationsOf(load.capture));
  console.log(
    `${load.name}: ${rate(hearing)}, ${(decoding / hearing).toFixed(2)} × plain decoding's ${rate(decoding)}; ${heard.transfers.count} transfers, ${heard.faultCount} faults`,
  );
}

const weighed = traffic('').capture;
const byTable = best(() => sumOf(weighed, classicalFrameBits));
const byBit = best(() => sumOf(weighed, (...of) => stuffedBits(...of).length + 13));
console.log(
  `frame bits by table: ${rate(byTable)}, ${(byBit / byTable).toFixed(1)} × laying every bit, ${rate(byBit)}`,
);
const report = best(() => healthOf(weighed));
console.log(`health report: ${rate(report)}`);

function plain({ capture, id, extended }: Load): number {
  const signal: Signal = {
    name: 'word',
    start: 8,
    length: 16,
    byteOrder: 'little',
    signed: false,
    scale: 0.1,
    offset: 0,
    unit: '',
    state: 'accepted',
  };
  const message: Message = { name: 'bench', id, extended, length: 8, periodMs: null, signals: [signal] };
  return decodeSignal(capture, messageFrames(capture, 0, message), message, signal).value.length;
}

function isoTp(name: string, size: () => number): Load {
  const builder = new CaptureBuilder(frames);
  while (builder.count < frames) {
    const message = Uint8Array.from({ length: size() }, random);
    for (const f of isoTpFrames(message)) {
      if (builder.count < frames) builder.add(builder.count / 5000, 0, 0x7e8, 0, 8, f, 0, 8);
    }
  }
  return { name, capture: builder.finish(), id: 0x7e8, extended: false };
}

function fastPackets(name: string): Load {
  const builder = new CaptureBuilder(frames);
  const id = 0x0df80503;
  const data = new Uint8Array(8);
  for (let sequence = 0; builder.count < frames; sequence = (sequence + 1) & 7) {
    const size = 7 + (random() % 217);
    for (let k = 0, sent = 0; sent < size && builder.count < frames; k++) {
      for (let b = 0; b < 8; b++) data[b] = random();
      data[0] = (sequence << 5) | k;
      if (k === 0) data[1] = size;
      sent += k === 0 ? 6 : 7;
      builder.add(builder.count / 2000, 0, id, FLAG.extended, 8, data, 0, 8);
    }
  }
  return { name, capture: builder.finish(), id, extended: true };
}

function traffic(name: string): Load {
  const builder = new CaptureBuilder(frames);
  const data = new Uint8Array(8);
  for (let i = 0; i < frames; i++) {
    for (let b = 0; b < 8; b++) data[b] = random();
    builder.add(i / 4000, 0, 0x100 + 16 * (i % 40), 0, 8, data, 0, 8);
  }
  return { name, capture: builder.finish(), id: 0x100, extended: false };
}

function sumOf(
  { count, id, flags, payload, offset, length }: Capture,
  bits: typeof classicalFrameBits,
): number {
  let sum = 0;
  for (let i = 0; i < count; i++) {
    sum += bits(id[i] as number, flags[i] as number, payload, offset[i] as number, length[i] as number);
  }
  return sum;
}

/** Seconds of processor time, so that a busy machine does not bend the ratios. */
function best(run: () => unknown): number {
  let least = Number.POSITIVE_INFINITY;
  for (let k = 0; k < REPEATS; k++) {
    const start = process.cpuUsage();
    run();
    const { user, system } = process.cpuUsage(start);
    least = Math.min(least, (user + system) / 1e6);
  }
  return least;
}

function rate(seconds: number): string {
  return `${(frames / seconds / 1e6).toFixed(1)} M frames/s`;
}
