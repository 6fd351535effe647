/**
 * The factor of vehicle speed in diagnostic answers, worked out from satellite speed alone. Recording:
 * github.com/CSS-Electronics/api-examples (commit f7932bac), sample log of one session, MIT licence. SAE J1979, PID 0D: the
 * fourth byte of the answer is the speed, 1 km/h a bit, offset 0.
 */
import { existsSync, readFileSync } from 'node:fs';
import { resolve } from 'node:path';
import { gunzipSync } from 'node:zlib';
import { describe, expect, test } from 'vitest';
import { fitScale } from '../../src/findings/scale/index.ts';

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

describe.skipIf(!here)('a recorded drive (skipped where ../shared/data is not there)', () => {
  const answers = here ? rows('obd-a.csv.gz').filter((row) => row[1] === '0D') : [];
  const receiver = here ? rows('motion-a.csv.gz').filter((row) => row[2] === '1') : [];
  const signal = {
    timeS: Float64Array.from(answers, (row) => Number(row[0])),
    value: Float64Array.from(answers, (row) => Number.parseInt((row[5] as string).slice(6, 8), 16)),
  };
  const satellite = (unit: string, times: number) => ({
    name: 'satellite speed',
    unit,
    timeS: Float64Array.from(receiver, (row) => Number(row[0])),
    value: Float64Array.from(receiver, (row) => Number(row[1]) * times),
  });

  test('one bit is 1 km/h, offset 0', () => {
    const fit = fitScale(signal, satellite('km/h', 3.6));
    expect(fit.relation).toBe('linear');
    expect(fit.pearson).toBeGreaterThan(0.99); // publisher's check: 0.998
    expect(fit.plainScale?.value).toBe(1); // SAE J1979, PID 0D
    expect(fit.plainOffset).toBe(0); // SAE J1979, PID 0D
  });

  test('in m/s it is 1/3.6', () => {
    const fit = fitScale(signal, satellite('m/s', 1));
    expect(fit.plainScale?.value).toBeCloseTo(1 / 3.6, 9); // 1 km/h in m/s
    expect(fit.plainScale?.why).toBe('1 km/h');
  });
});
