/**
 * What relations, cues and scale find where the truth is known, and how long the pairwise stage takes:
 * relations on the demo's drives (truth of the generator), false relations on unrelated traffic over seeds, states of a
 * tractor with repeats held out in turn, speed in diagnostic answers against satellite speed, and an hour of 8 million frames.
 * Run: node dist/bench/relations.js [folder of recordings, default ../shared/data] [seconds of the long recording, default 3600]
 */
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join, resolve } from 'node:path';
import { gunzipSync } from 'node:zlib';
import { truth } from '../demo/generator/truth.ts';
import { readCaptureFile } from '../src/build/captureFile.ts';
import { fieldBits, writeBits } from '../src/can/bits.ts';
import { formatId } from '../src/can/frame.ts';
import { concatenate } from '../src/capture/select.ts';
import { timeSpan } from '../src/capture/span.ts';
import { type Capture, CaptureBuilder } from '../src/capture/store.ts';
import { type CuedRecording, cueSteps } from '../src/findings/cues/index.ts';
import { findAll } from '../src/findings/find.ts';
import type { Findings, FoundSignal } from '../src/findings/model.ts';
import { dice } from '../src/findings/relations/dice.ts';
import { type Relations, relateSteps, type SignalPlace } from '../src/findings/relations/index.ts';
import { fitScale } from '../src/findings/scale/index.ts';

const data = resolve(process.argv[2] ?? '../shared/data');
const longS = Number(process.argv[3] ?? 3600);

await demoRelations();
falseRelations();
if (existsSync(data)) {
  await tractorStates();
  satelliteSpeed();
} else console.log(`${data} is not there: tractor and satellite speed skipped`);
longRecording();

/** Quantities of the generator that are one thing in several places, by the words that their names share. */
async function demoRelations(): Promise<void> {
  const names = new Map<string, string>();
  for (const { busNumber, message } of truth().messages)
    for (const signal of message.signals)
      for (const bit of fieldBits(signal)) names.set(`${busNumber} ${message.id} ${bit}`, signal.name);
  const nameOf = (p: SignalPlace) => names.get(`${p.bus} ${p.id} ${fieldBits(p).at(-1)}`) ?? '?';
  for (const file of ['drive-1', 'bench-1']) {
    const { capture } = await readCaptureFile(resolve(`demo/captures/${file}.pcapng`));
    const findings = await findAll(capture);
    const before = process.cpuUsage();
    const found = done(relateSteps(capture, findings));
    const cpu = process.cpuUsage(before).user / 1e6;
    const copies = found.copies.map((list) => list.map(nameOf).join(' = '));
    console.log(`demo ${file}: ${found.relations.length} relations, ${cpu.toFixed(2)} s of processor`);
    for (const line of copies) console.log(`  one quantity: ${line}`);
    for (const r of found.relations.filter((x) => x.kind !== 'together' && x.kind !== 'copy'))
      console.log(
        `  ${r.kind}: ${nameOf(r.from)}${r.with ? ` & ${nameOf(r.with)}` : ''} → ${nameOf(r.to)} (${r.probability.toFixed(2)})`,
      );
  }
}

/** Twenty signals that wander, drift or rest, in 60 s; no two have anything in common. */
function falseRelations(): void {
  let pairs = 0;
  let claimed = 0;
  for (let seed = 1; seed <= 100; seed++) {
    const { capture, findings } = wandering(seed, 20, 60, 0.02);
    const found = done(relateSteps(capture, findings));
    pairs += (20 * 19) / 2;
    claimed += found.relations.length;
  }
  console.log(`unrelated signals, seeds 1 to 100: ${claimed} relations claimed of ${pairs} pairs`);
}

function wandering(seed: number, signals: number, seconds: number, periodS: number) {
  const roll = dice(seed);
  const builder = new CaptureBuilder(Math.ceil((signals * seconds) / periodS));
  const state = Array.from({ length: signals }, () => ({ v: 8000 * roll(), drift: 4 * (roll() - 0.5) }));
  const payload = new Uint8Array(8);
  for (let i = 0; i * periodS < seconds; i++) {
    for (const [k, s] of state.entries()) {
      if (k % 4 === 0) s.v += s.drift * periodS;
      else if (k % 10 !== 9) s.v += 30 * (roll() + roll() - 1);
      s.v = Math.min(16383, Math.max(0, s.v));
      writeBits(payload, 0, { start: 0, length: 14, byteOrder: 'little' }, Math.round(s.v));
      builder.add(i * periodS + 1e-5 * k, 0, 0x100 + k, 0, 8, payload, 0, 8);
    }
  }
  return {
    capture: builder.finish(),
    findings: { messages: state.map((_, k) => message(0x100 + k, [[0, 14]])) },
  };
}

function message(id: number, fields: [number, number][]): Findings['messages'][number] {
  const signals = fields.map(
    ([start, length]): FoundSignal => ({
      start,
      length,
      byteOrder: 'little',
      signed: false,
      kind: 'number',
      scale: 1,
      offset: 0,
      unit: '',
      selectorValue: null,
      probability: 1,
      evidence: [],
    }),
  );
  return {
    bus: 0,
    id,
    extended: false,
    length: 8,
    selector: null,
    signals,
  } as unknown as Findings['messages'][number];
}

/** Each repeat of a state held out in turn: is the follower that parts the held-out recording among the first three? */
async function tractorStates(): Promise<void> {
  const folder = join(data, 'tractor');
  const files = readdirSync(folder)
    .filter((f) => f.endsWith('.csv.gz'))
    .sort();
  const captures: Capture[] = [];
  for (const f of files) captures.push((await readCaptureFile(join(folder, f))).capture);
  const findings = await findAll(concatenate(captures, 60));
  const stateOf = (file: string) => file.replace('.csv.gz', '').replace(/-\d$/, '');
  const states = [...new Set(files.map(stateOf))].filter(
    (s) => files.filter((f) => stateOf(f) === s).length > 1,
  );
  let tried = 0;
  let right = 0;
  for (const state of states) {
    for (const out of files.filter((f) => stateOf(f) === state)) {
      const recordings = files.flatMap((f, i): CuedRecording[] => {
        if (f === out) return [];
        const capture = captures[i] as Capture;
        const cues =
          stateOf(f) === state ? [{ name: state, startS: 0, endS: timeSpan(capture.time).seconds }] : [];
        return [{ name: f, capture, cues }];
      });
      const [found] = done(cueSteps(recordings, findings));
      const first = found?.candidates.slice(0, 3) ?? [];
      const others = files.flatMap((f, i) => (stateOf(f) === state ? [] : [captures[i] as Capture]));
      const parts = first.filter(
        (c) => c.by === 'value' && partsHeldOut(c, captures[files.indexOf(out)] as Capture, others),
      );
      tried++;
      if (parts.length > 0) right++;
      console.log(
        `  tractor ${state}, without ${out}: ${first.map((c) => `${formatId(c.id, c.extended)} ${c.start}:${c.length}`).join(', ')}; ${parts.length} of these part the recording held out`,
      );
    }
  }
  console.log(
    `tractor states, repeats held out: ${right} of ${tried} with such a follower in the first three`,
  );
}

/** Whether the mean of the field in the recording held out lies beyond those of all recordings of other states. */
function partsHeldOut(place: SignalPlace, out: Capture, others: readonly Capture[]): boolean {
  const mean = (capture: Capture): number => {
    let sum = 0;
    let n = 0;
    const bits = fieldBits(place);
    for (let i = 0; i < capture.count; i++) {
      if (capture.id[i] !== place.id) continue;
      let value = 0;
      for (const [k, bit] of bits.entries())
        value +=
          2 ** k *
          (((capture.payload[(capture.offset[i] as number) + (bit >> 3)] as number) >> (bit & 7)) & 1);
      sum += value;
      n++;
    }
    return sum / Math.max(1, n);
  };
  const rest = others.map(mean);
  const own = mean(out);
  return own > Math.max(...rest) || own < Math.min(...rest);
}

function satelliteSpeed(): void {
  const rows = (name: string) =>
    gunzipSync(readFileSync(join(data, 'drive-obd', name)))
      .toString('utf8')
      .trim()
      .split('\n')
      .slice(1)
      .map((line) => line.split(','));
  const answers = rows('obd-a.csv.gz').filter((row) => row[1] === '0D');
  const receiver = rows('motion-a.csv.gz').filter((row) => row[2] === '1');
  const fit = fitScale(
    {
      timeS: Float64Array.from(answers, (row) => Number(row[0])),
      value: Float64Array.from(answers, (row) => Number.parseInt((row[5] as string).slice(6, 8), 16)),
    },
    {
      name: 'satellite speed',
      unit: 'km/h',
      timeS: Float64Array.from(receiver, (row) => Number(row[0])),
      value: Float64Array.from(receiver, (row) => 3.6 * Number(row[1])),
    },
  );
  console.log(
    `speed of diagnostic answers against satellites: ${fit.scale.low.toFixed(4)} to ${fit.scale.high.toFixed(4)} km/h a bit, named ${fit.plainScale?.value}, offset ${fit.plainOffset}; r ${fit.pearson.toFixed(4)}, lag ${fit.lagS.value} s`,
  );
}

/** A hundred messages with four signals each, 22 frames a second each: an hour is 8 million frames. */
function longRecording(): void {
  const ids = 100;
  const frames = Math.round(longS * 22.2) * ids;
  const roll = dice(11);
  const builder = new CaptureBuilder(frames);
  const state = Array.from({ length: 4 * ids }, () => 2000 * roll());
  const payload = new Uint8Array(8);
  for (let i = 0, t = 0; i < frames / ids; i++, t += 1 / 22.2) {
    for (let m = 0; m < ids; m++) {
      for (let k = 0; k < 4; k++) {
        const s = 4 * m + k;
        // Every tenth message copies the first signal of the one before.
        const v =
          m % 10 === 9 && k === 0
            ? (state[s - 4] as number)
            : Math.min(4095, Math.max(0, (state[s] as number) + 24 * (roll() - 0.5)));
        state[s] = v;
        writeBits(payload, 0, { start: 16 * k, length: 12, byteOrder: 'little' }, Math.round(v));
      }
      builder.add(t + 2e-5 * m, 0, 0x100 + m, 0, 8, payload, 0, 8);
    }
  }
  const capture = builder.finish();
  const messages = Array.from({ length: ids }, (_, m) =>
    message(0x100 + m, [
      [0, 12],
      [16, 12],
      [32, 12],
      [48, 12],
    ]),
  );
  const before = process.cpuUsage();
  const started = performance.now();
  const found: Relations = done(relateSteps(capture, { messages }));
  const seconds = (performance.now() - started) / 1000;
  const cpu = process.cpuUsage(before).user / 1e6;
  console.log(
    `${capture.count} frames over ${longS} s, ${4 * ids} signals, ${(4 * ids * (4 * ids - 1)) / 2} pairs: ${seconds.toFixed(1)} s (${cpu.toFixed(1)} s of processor); ${found.relations.filter((r) => r.kind === 'copy').length} of 10 copies, ${found.relations.length - found.relations.filter((r) => r.kind === 'copy').length} others`,
  );
}

function done<T>(steps: Generator<number, T>): T {
  let step = steps.next();
  while (!step.done) step = steps.next();
  return step.value;
}
