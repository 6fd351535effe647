/**
 * How well findings tell which messages are sent from one clock: on simulated recordings by length and stamps, and on real
 * ones whose 29-bit identifiers name the sender (hidden from the engine: it is given other identifiers). The peer in the
 * same run is skew alone with its threshold chosen by the truth. Then calibration, false answers, and the time of an hour.
 * Run: node dist/bench/senders.js [recordings for the number of units, default 100] [folder of recordings]
 */
import { existsSync } from 'node:fs';
import { join, resolve } from 'node:path';
import { readCaptureFile } from '../src/build/captureFile.ts';
import { groupByMessage } from '../src/capture/select.ts';
import type { Capture } from '../src/capture/store.ts';
import type { Senders } from '../src/findings/senders/model.ts';
import { senderSteps } from '../src/findings/senders/senders.ts';
import { timingOf } from '../src/findings/timing.ts';
import { Calibration, scorePairs, skewAlone } from './senders/score.ts';
import { dice, type Plan, type Stamps, simulate } from './senders/simulate.ts';

const COUNTED = Number(process.argv[2] ?? 100);
const DATA = resolve(process.argv[3] ?? '../shared/data');
/** Seeds of the bench; those of the fit begin at 5000. */
const FIRST_SEED = 1;
const HEAD = 'F1 all / placeable / skew alone';

interface Result {
  all: number;
  placeable: number;
  peer: number;
  inside: boolean;
  units: Senders['units'];
  truth: number;
  calibration: Calibration;
  answers: number;
  seconds: number;
}

function sendersOf(capture: Capture): Senders {
  const steps = senderSteps(capture);
  let step = steps.next();
  while (!step.done) step = steps.next();
  return step.value;
}

/** `truthOf` names the true sender of message i; `apart`: messages that no stamps can place. */
function judge(
  capture: Capture,
  truthOf: (i: number, senders: Senders) => number,
  chosen: (i: number, senders: Senders) => boolean = () => true,
  apart: (i: number, senders: Senders) => boolean = () => false,
): Result & { precision: number; recall: number; messages: number } {
  const started = performance.now();
  const senders = sendersOf(capture);
  const seconds = (performance.now() - started) / 1000;
  const groupOf = new Map<number, number>();
  senders.groups.forEach((group, g) => {
    for (const i of group.messages) groupOf.set(i, g);
  });
  // All messages with a clock count; those that were not placed count as alone.
  const regular = senders.messages.flatMap((m, i) => (m.periodMs !== null && chosen(i, senders) ? [i] : []));
  const truth = regular.map((i) => truthOf(i, senders));
  const found = regular.map((i) => groupOf.get(i) ?? null);
  const score = scorePairs(found, truth);
  const can = regular.map((i) => !apart(i, senders));
  const only = <T>(list: readonly T[]) => list.filter((_, k) => can[k]);
  const placed = senders.messages.flatMap((m, i) => (m.notPlaced === null ? [truthOf(i, senders)] : []));
  const units = new Set(placed).size;
  const calibration = new Calibration();
  for (const { a, b, probability } of senders.pairs)
    calibration.add(probability, truthOf(a, senders) === truthOf(b, senders) ? 1 : 0);
  return {
    all: score.f1,
    placeable: scorePairs(only(found), only(truth)).f1,
    peer: skewAlone(
      regular.map((i) => (senders.messages[i]?.periodMs as number) / 1000),
      truth,
    ).f1,
    inside: senders.units !== null && senders.units.low <= units && units <= senders.units.high,
    units: senders.units,
    truth: units,
    calibration,
    answers: senders.follows.length,
    seconds,
    precision: score.precision,
    recall: score.recall,
    messages: regular.length,
  };
}

function judged(plan: Plan): Result {
  const { capture, unitOf, apart } = simulate(plan);
  const idAt = (i: number, s: Senders) => s.messages[i]?.id as number;
  return judge(
    capture,
    (i, s) => unitOf.get(idAt(i, s)) as number,
    undefined,
    (i, s) => apart.has(idAt(i, s)),
  );
}

function mean(values: readonly number[]): string {
  return (values.reduce((a, b) => a + b, 0) / values.length).toFixed(3);
}

function row(cells: readonly string[]): void {
  console.log(cells.join(' | '));
}

console.log(`simulated: 20 units, 60 messages, 43 % load, seeds from ${FIRST_SEED}; ${HEAD}, mean of 3`);
row(['stamps', '30 s', '60 s', '120 s', '300 s', '600 s', '300 s crowded']);
for (const stamps of ['fine', 'hardware', 'coarse', 'bunched'] satisfies Stamps[]) {
  const cells: string[] = [stamps];
  for (const [seconds, spacing] of [
    [30, 'ladder'],
    [60, 'ladder'],
    [120, 'ladder'],
    [300, 'ladder'],
    [600, 'ladder'],
    [300, 'crowded'],
  ] as const) {
    const results = [0, 1, 2].map((k) => judged({ seed: FIRST_SEED + k, seconds, stamps, spacing }));
    cells.push(
      `${mean(results.map((r) => r.all))} / ${mean(results.map((r) => r.placeable))} / ${mean(results.map((r) => r.peer))}`,
    );
  }
  row(cells);
}

console.log(`\n${COUNTED} simulated recordings, 300 s, stamps of 50 µs, seeds from 100`);
const many = Array.from({ length: COUNTED }, (_, k) =>
  judged({ seed: 100 + k, seconds: 300, stamps: 'hardware' }),
);
row([
  `F1 ${mean(many.map((r) => r.all))} / ${mean(many.map((r) => r.placeable))} / ${mean(many.map((r) => r.peer))}`,
  `number of units within 5–95 %: ${many.filter((r) => r.inside).length} of ${COUNTED}`,
  `mean error of the middle: ${mean(many.map((r) => (r.units?.likely ?? 0) - r.truth))}`,
  `mean width: ${mean(many.map((r) => (r.units?.high ?? 0) - (r.units?.low ?? 0)))}`,
  `false answers: ${many.reduce((sum, r) => sum + r.answers, 0)}`,
  `${mean(many.map((r) => r.seconds))} s each`,
]);
const all = new Calibration();
for (const { calibration } of many) all.join(calibration);
console.log('probability stated → share right (pairs), by class from 0, 0.02, 0.1, 0.3, 0.5, 0.7, 0.9, 0.98');
console.log(all.words().join(' | '));

/** Recordings that are not there are left out. */
const REAL = [
  'boat-11/run-a',
  'boat-11/run-b',
  'truck-j1939/engine-idle',
  'truck-j1939/truck-21-units',
  'truck-j1939/truck-ignition-on',
];
console.log('\nreal recordings, truth = source address, hidden from the engine');
for (const name of REAL) {
  const path = join(DATA, `${name}.csv.gz`);
  if (!existsSync(path)) {
    console.log(`${name}: not there, left out`);
    continue;
  }
  const { capture } = await readCaptureFile(path);
  const { hidden, idOf } = masked(capture);
  const truth = (i: number, s: Senders) => (idOf.get(s.messages[i]?.id as number) as number) & 0xff;
  const regular = regularIds(hidden);
  for (const [words, chosen] of [
    ['all with a clock', undefined],
    ['regular', (i: number, s: Senders) => regular.has(s.messages[i]?.id as number)],
  ] as const) {
    const r = judge(hidden, truth, chosen);
    row([
      `${name}, ${words} (${r.messages})`,
      `precision ${r.precision.toFixed(2)}, recall ${r.recall.toFixed(2)}, F1 ${r.all.toFixed(3)}; skew alone ${r.peer.toFixed(3)}`,
      `units ${r.units?.low}–${r.units?.high} (${r.truth} addresses)`,
      `answers ${r.answers}`,
      `${r.seconds.toFixed(1)} s`,
    ]);
    if (chosen === undefined) console.log(`  ${r.calibration.words().join(' | ')}`);
  }
}

const hour = simulate({ seed: 9, seconds: 3600, stamps: 'hardware', ids: 100, units: 30 }).capture;
const start = process.cpuUsage();
const grouped = groupByMessage(hour).length;
const grouping = process.cpuUsage(start);
const before = process.cpuUsage();
sendersOf(hour);
const whole = process.cpuUsage(before);
console.log(
  `\none hour, ${hour.count} frames, ${grouped} messages: ${(processorS(whole)).toFixed(1)} s of processor, ${(processorS(whole) / processorS(grouping)).toFixed(0)} × that of sorting its frames by message`,
);

function processorS({ user, system }: NodeJS.CpuUsage): number {
  return (user + system) / 1e6;
}

/** The capture with other identifiers, drawn by lot, and what they stand for: nothing of the sender is left in them. */
function masked(capture: Capture): { hidden: Capture; idOf: Map<number, number> } {
  const roll = dice(4711);
  const alias = new Map<number, number>();
  const idOf = new Map<number, number>();
  const id = capture.id.map((real) => {
    let other = alias.get(real);
    while (other === undefined || (alias.get(real) === undefined && idOf.has(other)))
      other = Math.floor(roll() * 2 ** 29);
    if (!alias.has(real)) {
      alias.set(real, other);
      idOf.set(other, real);
    }
    return other;
  });
  return { hidden: { ...capture, id }, idOf };
}

/** Identifiers sent one frame a period, 2 ms to 1.5 s, at least 30 times: the regular messages of the first trial. */
function regularIds(capture: Capture): Set<number> {
  const regular = new Set<number>();
  for (const { id, frames } of groupByMessage(capture)) {
    const time = Float64Array.from(frames, (f) => capture.time[f] as number).sort();
    const begins = new Uint8Array(time.length);
    begins[0] = 1;
    const { timing, periodMs } = timingOf(time, begins);
    const fits = periodMs !== null && periodMs > 2 && periodMs < 1500;
    if (timing === 'periodic' && fits && time.length >= 30) regular.add(id);
  }
  return regular;
}
