/** Small invented data for the figures: named, and looked at when a snapshot changes. */
import { parseHTML } from 'linkedom';
import type {
  BuildDrawingData,
  BusLoadData,
  LimitOverBudgetData,
  PayloadStripData,
  SeriesData,
  TraceData,
} from '../../../src/dossier/figures/index.ts';

export function emptyDocument(): Document {
  return parseHTML('<!doctype html><html><body></body></html>').document as unknown as Document;
}

/** Rates that halve from bit to bit, as a slowly moving number gives: `from` is its most significant bit. */
function numberRates(length: number, fastest = 0.5): number[] {
  return Array.from({ length }, (_, i) => fastest / 2 ** (length - 1 - i));
}

function ratesAt(bytes: number, ...fields: [bits: number[], rates: number[]][]): number[] {
  const rates = new Array<number>(8 * bytes).fill(0);
  for (const [bits, values] of fields)
    for (const [i, bit] of bits.entries()) rates[bit] = values[i] as number;
  return rates;
}

const steeringBits = [7, 6, 5, 4, 3, 2, 1, 0, 15, 14, 13, 12];
const speedBits = [27, 26, 25, 24, 23, 22, 21, 20, 19, 18, 17, 16];

/** One big-endian and one little-endian number of 12 bits, a counter, a check field, four bits nobody can tell. */
export const columnMessage: PayloadStripData = {
  name: '1A2',
  flipRate: ratesAt(
    8,
    [steeringBits, numberRates(12)],
    [speedBits, numberRates(12, 0.3)],
    [[35, 34, 33, 32], numberRates(4, 1)],
    [
      [56, 57, 58, 59, 60, 61, 62, 63],
      [0.5, 0.48, 0.51, 0.5, 0.49, 0.5, 0.52, 0.5],
    ],
  ),
  fields: [
    {
      key: 'a',
      label: 'steering angle, °',
      start: 7,
      length: 12,
      byteOrder: 'big',
      standing: 'accepted',
    },
    {
      key: 'b',
      label: 'not enough to tell',
      start: 8,
      length: 4,
      byteOrder: 'little',
      standing: 'undecided',
    },
    { key: 'c', label: 'speed, km/h', start: 16, length: 12, byteOrder: 'little', standing: 'found' },
    { key: 'd', label: 'counter', start: 32, length: 4, byteOrder: 'little', standing: 'found' },
    { key: 'e', label: 'check', start: 56, length: 8, byteOrder: 'little', standing: 'accepted' },
  ],
};

/** Sixteen bytes, a field behind a selector over another, one field that runs from the first row into the second. */
export const longMessage: PayloadStripData = {
  name: '18FF1234',
  flipRate: Array.from({ length: 128 }, (_, bit) => (bit % 8 < 3 ? 0.4 / (1 + (bit % 8)) : 0)),
  fields: [
    { key: 'a', label: 'selector', start: 0, length: 2, byteOrder: 'little', standing: 'found' },
    { key: 'b', label: 'level when 0', start: 8, length: 16, byteOrder: 'little', standing: 'found' },
    { key: 'c', label: 'level when 1', start: 8, length: 8, byteOrder: 'little', standing: 'undecided' },
    { key: 'd', label: 'over the row end', start: 60, length: 10, byteOrder: 'little', standing: 'found' },
  ],
};

export const wagtail: BuildDrawingData = {
  title: 'Wagtail',
  buses: [
    { name: 'van', bitRateBps: 500_000 },
    { name: 'column', bitRateBps: 500_000 },
    { name: 'trial', bitRateBps: 500_000, dataBitRateBps: 2_000_000 },
  ],
  units: [
    { name: 'engine', role: 'host', part: 'engine control', buses: ['van'] },
    { name: 'cluster', role: 'host', part: 'instrument cluster', buses: ['van'] },
    { name: 'body', role: 'host', part: 'body control with lights and locks', buses: ['van'] },
    { name: 'wheel speeds', role: 'host', part: 'anti-lock brake unit', buses: ['van'] },
    { name: 'pedal', role: 'host', part: 'accelerator pedal', buses: ['van'] },
    { name: 'Plover', role: 'donor', part: 'column steering unit', buses: ['column'] },
    { name: 'Dunlin', role: 'donor', part: 'steering angle sensor', buses: ['column'] },
    { name: 'Curlew', role: 'donor', part: 'electro-hydraulic brake unit', buses: ['column'] },
    { name: 'Lapwing', role: 'donor', part: 'front radar', buses: ['trial'] },
    { name: 'controller', role: 'controller', part: 'trial computer', buses: ['trial'] },
    { name: 'logger', role: 'host', part: 'recorder', buses: ['van', 'trial'] },
    {
      name: 'gateway',
      role: 'gateway',
      part: 'microcontroller with three buses',
      buses: ['van', 'column', 'trial'],
    },
  ],
};

const speeds = Array.from({ length: 31 }, (_, i) => i);
const budgetAt = (speed: number) => 900 / (1 + (speed / 4) ** 2);
const table = [
  { speedMps: 0, value: 300 },
  { speedMps: 5, value: 240 },
  { speedMps: 10, value: 90 },
  { speedMps: 20, value: 20 },
  { speedMps: 30, value: 8 },
];

function tableAt(points: typeof table, speed: number): number {
  const i = Math.max(
    1,
    points.findIndex((p) => p.speedMps >= speed),
  );
  const [a, b] = [points[i - 1] as (typeof table)[0], points[i] as (typeof table)[0]];
  return a.value + ((b.value - a.value) * (speed - a.speedMps)) / (b.speedMps - a.speedMps);
}

export const levelUnderBudget: LimitOverBudgetData = {
  quantity: 'level',
  unit: '°',
  rows: speeds.map((speedMps) => ({ speedMps, budget: budgetAt(speedMps), limit: tableAt(table, speedMps) })),
  points: table,
};

const bold = table.map((p) => (p.speedMps === 20 ? { ...p, value: 60 } : p));

/** One point of the table was raised: over the budget in the middle, under it again at the end. */
export const slewOverBudget: LimitOverBudgetData = {
  quantity: 'slew',
  unit: '°/s',
  rows: speeds.map((speedMps) => ({ speedMps, budget: budgetAt(speedMps), limit: tableAt(bold, speedMps) })),
  points: bold,
};

export const releaseTooLate: TraceData = {
  obligation: 'release on stop button',
  stepMs: 10,
  brokenAtStep: 9,
  series: [
    { name: 'stop_pressed', values: [0, 0, 0, 1, 1, 1, 1, 1, 1, 1, 1, 1] },
    { name: 'armed', values: [1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1] },
    { name: 'order_deg', values: [0, 2, 4, 6, 6, 5, 4, 3, 2, 1, -1, -3] },
    { name: 'since_stop', values: [0, 0, 0, 0, 1, 2, 3, 4, 5, 6, 7, 8] },
    { name: 'level_deg', values: [240, 240, 240, 240, 240, 240, 240, 240, 240, 240, 240, 240] },
  ],
};

const seconds = Array.from({ length: 40 }, (_, i) => (i < 25 ? i * 0.25 : 5 + i * 0.25));

export const angleOverTime: SeriesData = {
  name: 'steering angle',
  unit: '°',
  time: seconds,
  low: seconds.map((t) => 120 * Math.sin(t) - 4),
  high: seconds.map((t) => 120 * Math.sin(t) + 4),
  cues: [{ name: 'wheel left', startS: 1, endS: 3 }],
};

export const twoBuses: BusLoadData = {
  binSeconds: 2,
  start: 0,
  buses: [
    { name: 'van', bitRateBps: 500_000, bitsPerSecond: [190_000, 195_000, 210_000, 90_000, 196_000] },
    { name: 'column', bitRateBps: 500_000, bitsPerSecond: [60_000, 61_000, 60_500, 60_800, 60_700] },
  ],
};
