/** What a satellite receiver in the van would have written beside a recording: speed on a clock of its own. Invented. */
import { drive } from './motion.ts';
import { randomFor } from './random.ts';
import { perimeterRoad } from './road.ts';
import { DRIVE_1, type Scenario } from './scenario.ts';

/** The receiver was switched on this long before the recorder, and its clock runs this much faster. */
export const SATELLITE = { scenario: DRIVE_1, onBeforeS: 21.64, clockPpm: 18, stepS: 0.2 } as const;

/** Text of `reference/drive-1-satellite.csv`; the same seed gives the same bytes. */
export function satelliteCsv(seed: number): string {
  const { scenario, onBeforeS, clockPpm, stepS } = SATELLITE;
  const speed = speedOf(scenario, seed);
  const random = randomFor(seed, 'satellite receiver');
  const lines = [
    '# Invented: speed of the invented van Wagtail, as a receiver with a clock of its own would have it.',
  ];
  lines.push('time [s],speed [m/s]');
  // The recording lasts two minutes; the receiver went on for a little.
  for (let own = 0; own < onBeforeS + scenario.durationS - 4; own += stepS) {
    const t = own / (1 + clockPpm * 1e-6) - onBeforeS;
    const value = Math.max(0, speed(t) + 0.04 * random.normal());
    // Between the rows of trees nothing is received for a while.
    const shaded = t >= 70 && t < 74;
    lines.push(`${own.toFixed(1)},${shaded ? '' : value.toFixed(2)}`);
  }
  return `${lines.join('\n')}\n`;
}

/** Speed over the time of the recording, m/s; before its start the van stands. */
function speedOf(scenario: Scenario, seed: number): (t: number) => number {
  const { stepS, values } = drive(perimeterRoad(), scenario, seed);
  return (t) => {
    const at = Math.max(0, t) / stepS;
    const i = Math.min(Math.floor(at), values.speed.length - 2);
    const [a, b] = [values.speed[i] as number, values.speed[i + 1] as number];
    return a + (b - a) * Math.min(1, at - i);
  };
}
