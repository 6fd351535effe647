/** Bus `chassis`, the donor parts on it: Curlew, the brake unit, Lapwing, the radar, and what the gateway sends to them. */
import type { World } from '../world.ts';
import { big, check, choice, counter, flag, little, number, type Traffic, traffic } from './define.ts';

const J1850 = { poly: 0x1d, init: 0xff, xorout: 0xff };
const H2F = { poly: 0x2f, init: 0xff, xorout: 0xff };

export const DONORS: Traffic[] = [
  traffic(
    'chassis',
    'Curlew',
    'brake unit pressure',
    {
      id: 0x0e4,
      length: 8,
      periodMs: 20,
      counter: counter(8, 4, { skip: [15] }),
      check: check(0, [1, 2, 3, 4, 5, 6, 7], 'crc', { ...H2F, prefix: [0x5c] }),
    },
    [
      number('pressure primary', big(23, 12), { scale: 0.1, unit: 'bar' }, (w) =>
        Math.max(0, w.brakeBar + 0.4 + w.noise(0.1)),
      ),
      number('pressure secondary', big(27, 12), { scale: 0.1, unit: 'bar' }, (w) =>
        Math.max(0, 0.98 * w.brakeBar + 0.3 + w.noise(0.1)),
      ),
      number('rod travel', big(47, 10), { scale: 0.05, unit: 'mm' }, (w) =>
        Math.max(0, 2.1 + 4.6 * Math.sqrt(w.now.braking) + w.noise(0.05)),
      ),
    ],
  ),
  traffic(
    'chassis',
    'Curlew',
    'brake unit state',
    {
      id: 0x0e6,
      length: 6,
      periodMs: 20,
      counter: counter(24, 4),
      check: check(5, [0, 1, 2, 3, 4], 'sumComplement', { init: 0xff }),
    },
    [
      choice('brake state', little(0, 3), ['off', 'start', 'ready', 'boosting', 'fault'], (w) =>
        w.brakePressed ? 3 : 2,
      ),
      number('motor current', little(3, 10), { scale: 0.1, unit: 'A' }, (w) =>
        Math.max(0, 0.6 + 6.5 * w.now.braking + w.noise(0.15)),
      ),
      number(
        'accumulator pressure',
        little(13, 9),
        { scale: 0.5, unit: 'bar' },
        (w) => 162 - 0.33 * (w.t % 38) + w.noise(0.2),
      ),
    ],
  ),
  traffic(
    'chassis',
    'Curlew',
    'brake unit diagnosis',
    {
      id: 0x3e0,
      length: 8,
      periodMs: 200,
      selector: { start: 0, length: 3, byteOrder: 'little' },
      selectorCycle: [0, 1, 2, 5],
      background: [0, 0, 0, 0, 0, 0, 0xff, 0xff],
    },
    [
      number(
        'coil temperature',
        little(8, 8),
        { offset: -40, unit: '°C', selectorValue: 0 },
        (w) => 29 + 0.05 * w.t + w.noise(0.4),
      ),
      number(
        'fluid temperature',
        little(16, 8),
        { offset: -40, unit: '°C', selectorValue: 1 },
        (w) => 24 + 0.03 * w.t + w.noise(0.3),
      ),
      number(
        'supply voltage',
        little(8, 8),
        { scale: 0.1, unit: 'V', selectorValue: 2 },
        (w) => 13.8 - 0.1 * w.now.braking + w.noise(0.04),
      ),
      number('hours', little(8, 16), { selectorValue: 5, unit: 'h' }, () => 2204),
    ],
  ),
  traffic(
    'chassis',
    'gateway',
    'brake request',
    {
      id: 0x0ae,
      length: 6,
      periodMs: 20,
      counter: counter(0, 4),
      check: check(5, [0, 1, 2, 3, 4], 'crc', H2F),
    },
    [
      flag('request active', 4, () => 0),
      number('requested pressure', little(8, 12), { scale: 0.1, unit: 'bar', max: 120 }, () => 0),
    ],
  ),
  object(1, 0x10a, ahead),
  object(2, 0x10b, (w) => still(w, 1498, 3.4)),
  object(3, 0x10c, (w) => still(w, 1879, -4.1) ?? still(w, 1300, -5.2)),
  traffic(
    'chassis',
    'Lapwing',
    'radar status',
    {
      id: 0x0cf02a17,
      extended: true,
      length: 8,
      periodMs: 200,
      background: [0, 0, 0, 0xff, 0xff, 0xff, 0xff, 0xff],
    },
    [
      choice('radar state', little(0, 3), ['start', 'aligning', 'normal', 'blocked', 'fault'], () => 2),
      number(
        'radar temperature',
        little(8, 8),
        { offset: -40, unit: '°C' },
        (w) => 33 + 4 * (1 - Math.exp(-w.t / 60)),
      ),
      number('blockage', little(16, 7), { unit: '%' }, (w) =>
        Math.max(0, 5 + 12 * w.flag('wiper on') + w.noise(1)),
      ),
    ],
  ),
  traffic(
    'chassis',
    'gateway',
    'radar home',
    {
      id: 0x0a2,
      length: 8,
      periodMs: 20,
      counter: counter(28, 4),
      check: check(7, [0, 1, 2, 3, 4, 5, 6], 'sum', { init: 0x35 }),
    },
    [
      number('own speed', little(0, 16), { scale: 0.01, unit: 'km/h' }, (w) => w.speedKmh),
      number(
        'own yaw rate',
        little(16, 12),
        { signed: true, scale: 0.05, unit: '°/s' },
        (w) => w.yawRateDegPerS,
      ),
    ],
  ),
];

/** Where something is against the front of the van: metres ahead and left, and how fast the distance grows. */
interface Seen {
  distanceM: number;
  rateMps: number;
  leftM: number;
  moving: number;
}

function ahead(w: World): Seen | null {
  const { leadGap, leadGapRate } = w.now;
  if (Number.isNaN(leadGap)) return null;
  return { distanceM: leadGap, rateMps: leadGapRate, leftM: 0.2 * Math.sin(w.t / 4), moving: 1 };
}

/** Something that stands beside the road, seen from 90 m on. */
function still(w: World, atM: number, leftM: number): Seen | null {
  const distanceM = atM - w.now.distance;
  if (distanceM < 2 || distanceM > 90) return null;
  return { distanceM, rateMps: -w.now.speed, leftM, moving: 0 };
}

function object(index: number, id: number, see: (w: World) => Seen | null): Traffic {
  const of = (value: (seen: Seen, w: World) => number, none: number) => (w: World) => {
    const seen = see(w);
    return seen ? value(seen, w) : none;
  };
  return traffic(
    'chassis',
    'Lapwing',
    `object ${index}`,
    {
      id,
      length: 8,
      periodMs: 50,
      counter: counter(44, 4),
      check: check(7, [0, 1, 2, 3, 4, 5, 6], 'crc', { ...J1850, idBytes: [0, 1] }),
    },
    [
      number(
        'distance',
        little(0, 12),
        { scale: 0.05, unit: 'm', max: 200 },
        of((s, w) => s.distanceM + w.noise(0.06), 204.75),
      ),
      number(
        'relative speed',
        little(12, 11),
        { signed: true, scale: 0.05, unit: 'm/s' },
        of((s, w) => s.rateMps + w.noise(0.04), 0),
      ),
      number(
        'lateral position',
        little(23, 10),
        { signed: true, scale: 0.05, unit: 'm' },
        of((s, w) => s.leftM + w.noise(0.08), 0),
      ),
      flag(
        'seen',
        33,
        of(() => 1, 0),
      ),
      flag(
        'moving',
        34,
        of((s) => s.moving, 0),
      ),
      number(
        'echo',
        little(48, 8),
        { signed: true, scale: 0.5, unit: 'dB' },
        of((s, w) => 22 - 20 * Math.log10(s.distanceM / 10 + 1) + w.noise(0.7), -64),
      ),
    ],
  );
}
