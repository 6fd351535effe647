/**
 * How far stated probabilities hold, by kind, on made-up cars of seeds used nowhere else and on the real car whose check
 * fields and counters are proved: of what is stated with 0.85 to 0.95, the share that is right; the Brier score, beside that
 * of stating the mean share. Pairs of senders are held against their truth by bench/senders.ts.
 * Run: node dist/bench/calibration.js [cars, default 6] [folder of recordings, default ../shared/data]
 */
import { existsSync, readFileSync } from 'node:fs';
import { join, resolve } from 'node:path';
import { readCaptureFile } from '../src/build/captureFile.ts';
import { findInThreads } from '../src/build/findings/threads.ts';
import { fieldBits } from '../src/can/bits.ts';
import { formatId } from '../src/can/frame.ts';
import type { Findings, FoundMessage } from '../src/findings/model.ts';
import { type Relation, relate, type SignalPlace } from '../src/findings/relations/index.ts';
import { type MadeCar, madeCar } from './cars/car.ts';
import type { Claim } from './claims.ts';

const FIRST_SEED = 4201;
const SECONDS = 60;
const cars = Number(process.argv[2] ?? 6);
const data = resolve(process.argv[3] ?? '../shared/data');

const claims = new Map<string, Claim[]>();
for (let seed = FIRST_SEED; seed < FIRST_SEED + cars; seed++) {
  const car = madeCar(seed, { seconds: SECONDS, messages: 12, multiplexed: seed % 2 ? 0.3 : 0 });
  const findings = await findInThreads(car.capture);
  ofCar(car, findings);
  for (const relation of (await relate(car.capture, findings)).relations) ofRelation(car, relation);
}
console.log(`${cars} made-up cars of ${SECONDS} s, seeds from ${FIRST_SEED}`);
print();
claims.clear();
const real = join(data, 'car-500k/drive-b.csv.gz');
if (existsSync(real)) {
  ofProvedCar(await findInThreads((await readCaptureFile(real)).capture));
  console.log('real car, counters and check fields that are proved');
  print();
} else console.log(`${real} is not there: the real car was left out`);

function claim(kind: string, probability: number, right: boolean): void {
  claims.set(kind, [...(claims.get(kind) ?? []), { probability, right }]);
}

function ofCar(car: MadeCar, { messages }: Findings): void {
  for (const found of messages) {
    const truth = car.messages.find(({ id }) => id === found.id)?.signals ?? [];
    const moving = (field: Parameters<typeof fieldBits>[0]) =>
      fieldBits(field)
        .filter((bit) => (found.flipRate[bit] ?? 0) > 0)
        .sort((a, b) => a - b)
        .join();
    const there = (field: Parameters<typeof fieldBits>[0], of: readonly (typeof truth)[number][]) =>
      of.some((signal) => moving(signal) === moving(field));
    const kinds = (kind: string) => truth.filter((signal) => signal.kind === kind);
    for (const [kind, field] of [
      ['counter', found.counter],
      ['check', found.check],
      ['selector', found.selector],
    ] as const)
      if (field) claim(kind, field.probability, there(field, kinds(kind)));
    for (const signal of found.signals) {
      if (signal.kind === 'constant' || moving(signal) === '') continue;
      const page = truth.filter(({ selectorValue }) => selectorValue === signal.selectorValue);
      claim('cut', signal.probability, there(signal, page));
    }
  }
}

/** Right where both are fields of the car that carry one quantity; flags and modes have no name that would tell. */
function ofRelation(car: MadeCar, { kind, from, to, probability }: Relation): void {
  if (kind !== 'copy') return;
  const nameOf = (place: SignalPlace) =>
    car.messages
      .find(({ id }) => id === place.id)
      ?.signals.find((s) => fieldBits(s).some((bit) => fieldBits(place).includes(bit)) && s.kind === 'number')
      ?.name;
  const [a, b] = [nameOf(from), nameOf(to)];
  if (a !== undefined && b !== undefined) claim('relation (copy)', probability, a === b);
}

function ofProvedCar({ messages }: Findings): void {
  const { messages: proved } = JSON.parse(readFileSync(join(data, 'car-500k/verified.json'), 'utf8')) as {
    messages: { id: string; crc8_j1850?: object; counter4?: object }[];
  };
  const has = (m: FoundMessage, what: 'crc8_j1850' | 'counter4') =>
    proved.some((p) => p.id === formatId(m.id, m.extended) && p[what] !== undefined);
  for (const m of messages) {
    if (m.check) claim('check', m.check.probability, has(m, 'crc8_j1850'));
    if (m.counter) claim('counter', m.counter.probability, has(m, 'counter4'));
  }
}

function print(): void {
  for (const [kind, all] of claims) {
    const near = all.filter(({ probability: p }) => p >= 0.85 && p <= 0.95);
    const share = (some: readonly Claim[]) => some.filter(({ right }) => right).length / some.length;
    const brier = (stated: (c: Claim) => number) =>
      all.reduce((sum, c) => sum + (stated(c) - Number(c.right)) ** 2, 0) / all.length;
    const mean = share(all);
    const band = near.length > 0 ? `${share(near).toFixed(2)} of ${near.length} right` : 'none stated so';
    console.log(
      `  ${kind}: stated 0.85 to 0.95: ${band}; all ${all.length}: ${mean.toFixed(2)} right; Brier score ${brier((c) => c.probability).toFixed(3)} (${brier(() => mean).toFixed(3)} for stating the mean)`,
    );
  }
}
