/**
 * Makes the recordings of the demo build from a seed: an invented van on an invented road, its units and donor parts.
 * One file one concept: road, motion, world, units, messages, payloads, bus, record, satellite, write; `truth` says what is really
 * in there, for tests.
 */
import { record } from './record.ts';
import { SCENARIOS } from './scenario.ts';
import { writeMissing } from './write.ts';

export { record } from './record.ts';
export { SATELLITE, satelliteCsv } from './satellite.ts';
export { BENCH_1, DRIVE_1, SCENARIOS, type Scenario } from './scenario.ts';
export { type TrueMessage, type Truth, truth } from './truth.ts';

export const DEMO_SEED = 20080512;

export interface Written {
  /** Path relative to the build folder. */
  file: string;
  frames: number;
  seconds: number;
}

/**
 * Writes those recordings of the demo that `folder/captures` does not hold yet; returns what was written.
 * @throws Error of the file system, with nothing half-written left behind
 */
export async function generateDemo(folder: string, seed = DEMO_SEED): Promise<Written[]> {
  const written: Written[] = [];
  for (const scenario of SCENARIOS) {
    const capture = await writeMissing(folder, scenario.capture, () => record(scenario, seed));
    if (capture) {
      written.push({
        file: `captures/${scenario.capture}`,
        frames: capture.count,
        seconds: scenario.durationS,
      });
    }
  }
  return written;
}
