/** The demo's recordings, made once for all tests of a file, and how a signal of them is read. */
import { BENCH_1, DEMO_SEED, DRIVE_1, record, type TrueMessage, truth } from '../../demo/generator/index.ts';
import type { Capture } from '../../src/capture/store.ts';
import { decodeSignal, messageFrames, type Series } from '../../src/dictionary/decode.ts';
import type { Signal } from '../../src/dictionary/model.ts';

const made = new Map<string, Capture>();

export function recording(name: 'drive-1' | 'bench-1'): Capture {
  let capture = made.get(name);
  if (!capture) {
    capture = record(name === 'drive-1' ? DRIVE_1 : BENCH_1, DEMO_SEED);
    made.set(name, capture);
  }
  return capture;
}

export function trueMessage(bus: string, name: string): TrueMessage {
  const found = truth().messages.find((m) => m.bus === bus && m.message.name === name);
  if (!found) throw new Error(`no message ${name} on bus ${bus}`);
  return found;
}

export function series(capture: Capture, bus: string, name: string, signal: string): Series {
  const { busNumber, message } = trueMessage(bus, name);
  const found = message.signals.find((s) => s.name === signal) as Signal;
  return decodeSignal(capture, messageFrames(capture, busNumber, message), message, found);
}

/** Value of a series at a time, held from the last frame before. */
export function at(s: Series, t: number): number {
  let low = 0;
  let high = s.time.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((s.time[middle] as number) <= t) low = middle + 1;
    else high = middle;
  }
  return s.value[Math.max(0, low - 1)] as number;
}

/** Pearson correlation of two lists. */
export function correlation(a: number[], b: number[]): number {
  const mean = (x: number[]) => x.reduce((sum, v) => sum + v, 0) / x.length;
  const [ma, mb] = [mean(a), mean(b)];
  let [ab, aa, bb] = [0, 0, 0];
  a.forEach((v, i) => {
    const [da, db] = [v - ma, (b[i] as number) - mb];
    ab += da * db;
    aa += da * da;
    bb += db * db;
  });
  return ab / Math.sqrt(aa * bb);
}
