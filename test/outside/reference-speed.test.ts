/**
 * Alignment of a recorded drive: speed that the car answers (SAE J1979, PID 0D) against speed from satellites, both on one
 * clock. Recording: github.com/CSS-Electronics/api-examples (commit f7932bac), sample log of one session, MIT licence; its
 * publisher's independent check found r = 0.998.
 */
import { existsSync, readFileSync } from 'node:fs';
import { resolve } from 'node:path';
import { gunzipSync } from 'node:zlib';
import { describe, expect, test } from 'vitest';
import { alignReference } from '../../src/capture/reference/align.ts';
import { readReferenceCsv } from '../../src/capture/reference/csv.ts';

const FOLDER = resolve('../shared/data/drive-obd');
const here = existsSync(FOLDER);
if (!here && process.env.CI) throw new Error(`${FOLDER} is missing`);

const text = (name: string) => gunzipSync(readFileSync(resolve(FOLDER, name))).toString('utf8');

describe.skipIf(!here)('a recorded drive', () => {
  const answers = () => {
    const rows = text('obd-a.csv.gz')
      .split('\n')
      .map((line) => line.split(','))
      .filter((row) => row[1] === '0D');
    return { timeS: rows.map((row) => Number(row[0])), value: rows.map((row) => Number(row[4])) };
  };
  const receiver = () => readReferenceCsv(text('motion-a.csv.gz'));

  test('the satellite series is read as it is: seconds, ten a second, speed in m/s', () => {
    const { series, confidence, problems } = receiver();
    expect(problems).toEqual([]);
    expect(confidence).toBeGreaterThan(0.5);
    expect(series[0]!.timeS.length).toBe(24_020); // rows told in the recording's SOURCE.md
  });

  test('speed of the car against satellite speed: r of at least 0.99, and the offset that was put in comes out', () => {
    const { series } = receiver();
    const speed = series.find((s) => /speed/i.test(s.name))!;
    const [one, moved] = [0, 7.5].map((shift) => {
      const result = alignReference(
        { timeS: speed.timeS.map((t) => t - shift), value: speed.value },
        answers(),
      );
      if ('reason' in result) throw new Error(result.reason);
      return result;
    });
    expect(one!.r).toBeGreaterThan(0.99); // publisher's check: 0.998
    expect(one!.rivals).toEqual([]);
    expect(Math.abs(one!.shiftS)).toBeLessThan(3);
    expect(Math.abs(1 / one!.slope / 3.6 - 1)).toBeLessThan(0.03); // km/h against m/s
    expect(moved!.offsetS - one!.offsetS).toBeCloseTo(7.5, 1);
    process.stdout.write(
      `drive-obd: r ${one!.r.toFixed(5)}, shift ${one!.shiftS.toFixed(3)} ± ${one!.shiftHalfS.toFixed(3)} s, drift ${one!.driftPpm.toFixed(1)} ± ${one!.driftHalfPpm?.toFixed(1)} ppm, residual ${one!.residual.toFixed(3)} m/s, ${one!.pairs} pairs\n`,
    );
  });
});
