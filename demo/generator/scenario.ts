/**
 * What happens in the two recordings: where the van is, who does what when. The cue sheets in `cues/` tell the same to
 * the user; a test compares them.
 */

import type { BusName, UnitKey } from './units.ts';

export interface Event {
  name: string;
  startS: number;
  endS: number;
  level?: number;
}

/** Something slower ahead on the road: where it joins, how fast it goes, where it leaves. */
export interface Lead {
  joinsAtS: number;
  joinsAtM: number;
  speedMps: number;
  leavesAtM: number;
}

export interface Scenario {
  /** File name of the recording. */
  capture: string;
  /** Start of the recording, nanoseconds since 1970 (UTC). */
  originNs: bigint;
  durationS: number;
  buses: readonly BusName[];
  /** Units that are not there. */
  absent: readonly UnitKey[];
  /** Metres from the yard gate at the start. */
  startM: number;
  startMps: number;
  /** The driver sets off at this time; before it the van stands. */
  departS: number;
  /** Places where the driver stops and gives way, and for how long. */
  stops: readonly { atM: number; standS: number }[];
  lead: Lead | null;
  /** Hands on the wheel, or a motor of the bench that turns it. */
  wheel: 'driver' | 'bench motor';
  events: readonly Event[];
}

/** The wheel sweep that the gateway orders while the van stands, degrees at the steering wheel. */
export const SWEEP = { amplitudeDeg: 30, frequencyHz: 0.4 } as const;

/** The van on the perimeter road, driven by hand, donor parts fitted and kept awake by the gateway. */
export const DRIVE_1: Scenario = {
  capture: 'drive-1.pcapng',
  originNs: BigInt(Date.UTC(2026, 4, 12, 9, 30, 0)) * 1_000_000n,
  durationS: 120,
  buses: ['column', 'chassis'],
  absent: ['controller'],
  startM: 1145,
  startMps: 0,
  departS: 14,
  stops: [{ atM: 1878, standS: 2.5 }],
  lead: { joinsAtS: 62, joinsAtM: 1655, speedMps: 6.2, leavesAtM: 1840 },
  wheel: 'driver',
  events: [
    { name: 'brake pressed', startS: 1.5, endS: 2.5 },
    { name: 'brake pressed', startS: 3.2, endS: 3.9 },
    { name: 'gateway sweeps the wheel', startS: 4.5, endS: 9.5, level: SWEEP.amplitudeDeg },
    { name: 'left indicator on', startS: 10.2, endS: 12.6 },
    { name: 'dipped headlamps on', startS: 13.1, endS: 120 },
    { name: 'right indicator on', startS: 93, endS: 96.5 },
    { name: 'wiper on', startS: 64, endS: 71 },
  ],
};

/**
 * Plover, Curlew and Dunlin on the bench; a computer plays the van on the east side of the road, a motor turns the wheel
 * along, and a driving controller asks to steer, sometimes badly.
 */
export const BENCH_1: Scenario = {
  capture: 'bench-1.pcapng',
  originNs: BigInt(Date.UTC(2026, 4, 19, 14, 5, 0)) * 1_000_000n,
  durationS: 60,
  buses: ['column', 'chassis', 'controller'],
  absent: ['Lapwing'],
  startM: 915,
  startMps: 10,
  departS: 0,
  stops: [],
  lead: null,
  wheel: 'bench motor',
  events: [
    { name: 'arm button', startS: 3, endS: 3.3 },
    { name: 'command too large', startS: 9, endS: 10.5, level: 95 },
    { name: 'command too quick', startS: 13, endS: 15, level: 25 },
    { name: 'command missing', startS: 19, endS: 19.3 },
    { name: 'arm button', startS: 21, endS: 21.3 },
    { name: 'arm button', startS: 23, endS: 23.3 },
    { name: 'command with a wrong check', startS: 27, endS: 27.5 },
    { name: 'arm button', startS: 29, endS: 29.3 },
    { name: 'arm button', startS: 31, endS: 31.3 },
    { name: 'command counter frozen', startS: 34, endS: 34.6 },
    { name: 'arm button', startS: 36, endS: 36.3 },
    { name: 'arm button', startS: 38, endS: 38.3 },
    { name: 'driver turns the wheel', startS: 42, endS: 42.6, level: 5 },
    { name: 'arm button', startS: 45, endS: 45.3 },
    { name: 'stop button', startS: 49, endS: 50 },
    { name: 'arm button', startS: 51.5, endS: 51.8 },
    { name: 'arm button', startS: 53.5, endS: 53.8 },
    { name: 'request withdrawn', startS: 57, endS: 60 },
  ],
};

export const SCENARIOS: readonly Scenario[] = [DRIVE_1, BENCH_1];

/** The event of this name that is under way, if any. */
export function during(scenario: Scenario, name: string, t: number): Event | undefined {
  return scenario.events.find((event) => event.name === name && t >= event.startS && t < event.endS);
}
