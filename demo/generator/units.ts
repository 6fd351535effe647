/** Who sends: each unit has a clock of its own, a little fast or slow, and starts when it likes. */
import type { Random } from './random.ts';

export type BusName = 'column' | 'chassis' | 'controller';

/** Numbers of the buses in the recordings, as in buses.yaml. */
export const BUS_NUMBER: Record<BusName, number> = { column: 0, chassis: 1, controller: 2 };
export const BIT_RATE_BPS = 500_000;

export interface UnitClock {
  /** Name as in units.yaml. */
  name: string;
  /** How much its second is shorter than a true one, parts per million. */
  skewPpm: number;
  /** Its first message after the start of the recording, s. */
  startS: number;
  /** From what a sensor sees to the message that tells it, s. */
  latencyS: number;
}

export const UNITS = {
  Plover: { name: 'Plover', skewPpm: 38, startS: 0.011, latencyS: 0.002 },
  Dunlin: { name: 'Dunlin', skewPpm: -64, startS: 0.0043, latencyS: 0.002 },
  Curlew: { name: 'Curlew', skewPpm: -27, startS: 0.0172, latencyS: 0.002 },
  Lapwing: { name: 'Lapwing', skewPpm: 91, startS: 0.0268, latencyS: 0.045 },
  brakes: { name: 'Wagtail brake control', skewPpm: 55, startS: 0.0021, latencyS: 0.002 },
  engine: { name: 'Wagtail engine control', skewPpm: -41, startS: 0.0089, latencyS: 0.002 },
  body: { name: 'Wagtail body control', skewPpm: -83, startS: 0.0333, latencyS: 0.002 },
  gateway: { name: 'gateway', skewPpm: 20, startS: 0.0007, latencyS: 0.012 },
  controller: { name: 'driving controller', skewPpm: -52, startS: 0.0151, latencyS: 0.002 },
} as const satisfies Record<string, UnitClock>;

export type UnitKey = keyof typeof UNITS;

/** Moments at which a task of period `periodS` hands its message to the bus, true time, within `durationS`. */
export function* releases(
  clock: UnitClock,
  periodS: number,
  phaseS: number,
  durationS: number,
  random: Random,
): Generator<number> {
  const rate = 1 - clock.skewPpm * 1e-6;
  for (let k = 0; ; k++) {
    // A quartz wanders by about 1 ppm as it warms; tasks start up to 150 µs late, and now and then half a millisecond.
    const warm = 1e-6 * 30 * (1 - Math.exp((-k * periodS) / 30));
    const late = 150e-6 * random.next() + (random.next() < 0.004 ? 500e-6 * random.next() : 0);
    const t = clock.startS + phaseS + k * periodS * rate - warm;
    if (t >= durationS) return;
    yield t + late;
  }
}
