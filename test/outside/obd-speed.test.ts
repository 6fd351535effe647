/**
 * Speed as a car answers it against speed from satellites. Recording: github.com/CSS-Electronics/api-examples (commit
 * f7932bac), sample log of one session, MIT licence; its publisher's independent check found r = 0.998 and a mean
 * difference of 0.46 km/h. Formula: SAE J1979, PID 0D.
 */
import { existsSync, readFileSync } from 'node:fs';
import { resolve } from 'node:path';
import { gunzipSync } from 'node:zlib';
import { describe, expect, test } from 'vitest';
import { obdAnswerValues } from '../../src/can/obd.ts';
import { conversationsOf } from '../../src/capture/conversations.ts';
import { CaptureBuilder } from '../../src/capture/store.ts';
import { hex } from '../can/transport/collect.ts';

const FOLDER = resolve('../shared/data/drive-obd');
const here = existsSync(FOLDER);
if (!here && process.env.CI) throw new Error(`${FOLDER} is missing`);

const rows = (name: string): string[][] =>
  gunzipSync(readFileSync(resolve(FOLDER, name)))
    .toString('utf8')
    .trim()
    .split('\n')
    .slice(1)
    .map((line) => line.split(','));

/** Linear between the rows of a series that rises in time. */
function at(time: readonly number[], value: readonly number[], t: number): number {
  let lo = 0;
  let hi = time.length - 1;
  if (t < time[lo]! || t > time[hi]!) return Number.NaN;
  while (hi - lo > 1) {
    const mid = (lo + hi) >> 1;
    if (time[mid]! <= t) lo = mid;
    else hi = mid;
  }
  // Across a hole of the receiver nothing is known.
  if (time[hi]! - time[lo]! > 1) return Number.NaN;
  return value[lo]! + ((value[hi]! - value[lo]!) * (t - time[lo]!)) / (time[hi]! - time[lo]!);
}

function correlation(a: readonly number[], b: readonly number[]): number {
  const mean = (x: readonly number[]) => x.reduce((s, v) => s + v, 0) / x.length;
  const [ma, mb] = [mean(a), mean(b)];
  const cov = a.reduce((s, v, i) => s + (v - ma) * (b[i]! - mb), 0);
  const spread = (x: readonly number[], m: number) => Math.sqrt(x.reduce((s, v) => s + (v - m) ** 2, 0));
  return cov / (spread(a, ma) * spread(b, mb));
}

describe.skipIf(!here)('a recorded drive', () => {
  test('speed decoded from diagnostic answers follows satellite speed with r of at least 0.99', () => {
    const answers = rows('obd-a.csv.gz');
    const builder = new CaptureBuilder(answers.length);
    for (const [t = '', , , , , raw = ''] of answers) {
      const data = hex(raw);
      // The recording names no identifier; answers of the first unit come under 7E8.
      builder.add(Number(t), 0, 0x7e8, 0, data.length, data, 0, data.length);
    }
    const capture = builder.finish();
    const { transfers, faultCount } = conversationsOf(capture);
    expect(faultCount).toBe(0);
    expect(transfers.count).toBe(answers.length);

    const speed: { t: number; kmh: number }[] = [];
    for (let k = 0; k < transfers.count; k++) {
      const from = transfers.offset[k]!;
      for (const { kind, value } of obdAnswerValues(
        transfers.bytes.subarray(from, from + transfers.length[k]!),
      )) {
        if (kind.pid === 0x0d) speed.push({ t: capture.time[transfers.firstFrame[k]!]!, kmh: value });
      }
    }
    expect(speed.length).toBe(answers.filter(([, pid]) => pid === '0D').length);
    const published = answers.filter(([, pid]) => pid === '0D').map((row) => Number(row[4]));
    expect(speed.map((s) => s.kmh)).toEqual(published);

    const receiver = rows('motion-a.csv.gz').filter((row) => row[2] === '1');
    const time = receiver.map((row) => Number(row[0]));
    const kmh = receiver.map((row) => Number(row[1]) * 3.6);
    // The receiver's speed comes later than the car's by a constant: the lag that correlates best, looked for up to 4 s.
    let best = { r: -1, lag: 0, difference: Number.NaN };
    for (let lag = -4; lag <= 4; lag += 0.2) {
      const pairs = speed
        .map((s) => [s.kmh, at(time, kmh, s.t + lag)] as const)
        .filter(([, other]) => Number.isFinite(other));
      const r = correlation(
        pairs.map(([own]) => own),
        pairs.map(([, other]) => other),
      );
      const difference = pairs.reduce((sum, [own, other]) => sum + own - other, 0) / pairs.length;
      if (r > best.r) best = { r, lag, difference };
    }
    expect(best.r).toBeGreaterThan(0.99); // publisher's check: 0.998
    expect(Math.abs(best.lag)).toBeLessThan(3);
    expect(Math.abs(best.difference)).toBeLessThan(2); // publisher's check: 0.46 km/h
  });
});
