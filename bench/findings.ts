/**
 * What findings find on real recordings, and how long that takes: counters and check fields found, expected and false;
 * agreement of the cut with public field layouts, beside a plain peer on the same code lengths in the same run (least
 * description length, no learned weights); seconds of the whole, and of the cut against the peer's search alone; then the
 * same on made-up cars whose layouts are known, big-endian, signed and multiplexed ones among them.
 * Run: node dist/bench/findings.js [folder of recordings, default ../shared/data]
 */
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join, resolve } from 'node:path';
import { readCaptureFile } from '../src/build/captureFile.ts';
import { fieldBits } from '../src/can/bits.ts';
import { formatId } from '../src/can/frame.ts';
import { concatenate, groupByMessage } from '../src/capture/select.ts';
import type { Capture } from '../src/capture/store.ts';
import type { Candidate } from '../src/findings/cut/candidates.ts';
import { bestCover } from '../src/findings/cut/cover.ts';
import { findSteps } from '../src/findings/find.ts';
import type { Findings, FoundMessage, FoundSignal } from '../src/findings/model.ts';
import { messageRows, sessionsOf } from '../src/findings/rows.ts';
import { draftSegmentation } from '../src/findings/segment.ts';
import { claimLines } from './claims.ts';
import { carsBench } from './findingsCars.ts';
import { protectionBench } from './findingsProtection.ts';
import { type Score, scoreCut, type Truth } from './findingsScore.ts';

const data = resolve(process.argv[2] ?? '../shared/data');
if (!existsSync(data)) {
  console.error(`${data} is not there; give the folder of recordings as argument.`);
  process.exit(1);
}

const PLAIN: FoundSignal = {
  start: 0,
  length: 0,
  byteOrder: 'little',
  signed: false,
  kind: 'number',
  scale: 1,
  offset: 0,
  unit: '',
  selectorValue: null,
  probability: 0,
  evidence: [],
};

interface Case {
  name: string;
  files: string[];
  /** Identifiers that are proved to have a check, and a counter, by lowest bit; null where that is not known. */
  checks: Set<string> | null;
  counters: Map<string, number> | null;
  truth?: Truth;
}

const tractor = readdirSync(join(data, 'tractor'))
  .filter((name) => name.endsWith('.csv.gz'))
  .sort()
  .map((name) => `tractor/${name}`);
const none = { checks: new Set<string>(), counters: null };
const cases: Case[] = [
  { name: 'car-500k drive-b', files: ['car-500k/drive-b.csv.gz'], ...verified() },
  { name: 'light-truck', files: ['light-truck/truck-2-drive-b.csv.gz'], ...none, counters: new Map() },
  { name: 'boat-11 run-a', files: ['boat-11/run-a.csv.gz'], ...none, truth: json('boat-11/truth.json') },
  { name: 'boat-11 run-b', files: ['boat-11/run-b.csv.gz'], ...none, truth: json('boat-11/truth.json') },
  {
    name: 'truck engine-idle',
    files: ['truck-j1939/engine-idle.csv.gz'],
    ...none,
    truth: json('truck-j1939/truth-engine-idle.json'),
  },
  { name: `tractor, ${tractor.length} logs`, files: tractor, ...none, truth: json('tractor/truth.json') },
];

console.log(`node ${process.version}; found/expected/false; – where the truth is not known`);
const claims: Score['claims'] = [];
for (const one of cases) {
  const captures: Capture[] = [];
  for (const file of one.files) captures.push((await readCaptureFile(join(data, file))).capture);
  const capture = concatenate(captures, 60);
  const before = process.cpuUsage();
  const started = performance.now();
  const steps = findSteps(capture);
  let step = steps.next();
  while (!step.done) step = steps.next();
  const seconds = (performance.now() - started) / 1000;
  const cpu = process.cpuUsage(before).user / 1e6;
  const findings = step.value;
  console.log(
    `${one.name}: ${capture.count} frames, ${findings.messages.length} messages, ${seconds.toFixed(2)} s (${cpu.toFixed(2)} s of processor)`,
  );
  console.log(`  checks ${checkCounts(findings, one)}, counters ${counterCounts(findings, one)}`);
  if (!one.truth) continue;
  const own = scoreCut(findings, one.truth);
  const peerStarted = performance.now();
  const peer = scoreCut(plainly(capture, findings), one.truth);
  const peerSeconds = (performance.now() - peerStarted) / 1000;
  claims.push(...own.claims);
  console.log(`  cut of ${own.messages} messages: ${words(own)}`);
  console.log(
    `  plain description length: ${words(peer)}; F1 ${(own.f1 / peer.f1).toFixed(2)} × the peer's; all of it in ${(seconds / peerSeconds).toFixed(2)} × the time of the peer's cut`,
  );
}
protectionBench();
console.log('recordings: stated probability of a field, and share that is right:');
for (const line of claimLines(claims)) console.log(line);
carsBench();

function json(path: string): Truth {
  return JSON.parse(readFileSync(join(data, path), 'utf8')) as Truth;
}

function verified(): Pick<Case, 'checks' | 'counters'> {
  const { messages } = JSON.parse(readFileSync(join(data, 'car-500k/verified.json'), 'utf8')) as {
    messages: { id: string; crc8_j1850?: object; counter4?: { byte: number; nibble?: string } }[];
  };
  const counters = new Map<string, number>();
  for (const { id, counter4 } of messages) {
    if (counter4) counters.set(id, 8 * counter4.byte + (counter4.nibble === 'low' ? 0 : 3));
  }
  return { checks: new Set(messages.filter((m) => m.crc8_j1850).map((m) => m.id)), counters };
}

function checkCounts(findings: Findings, { checks }: Case): string {
  const found = findings.messages.filter((m) => m.check).map(idOf);
  const right = found.filter((id) => checks?.has(id)).length;
  return checks ? `${right}/${checks.size}/${found.length - right}` : `${found.length}/–/–`;
}

function counterCounts(findings: Findings, { counters }: Case): string {
  const found = findings.messages.filter((m) => m.counter);
  if (!counters) return `${found.length}/–/–`;
  const right = found.filter(
    (m) => m.counter?.length === 4 && counters.get(idOf(m)) === m.counter.start,
  ).length;
  return `${right}/${counters.size}/${found.length - right}`;
}

function idOf(m: FoundMessage): string {
  return formatId(m.id, m.extended);
}

function words(s: Score): string {
  return `${s.right} right of ${s.foundFields} found and ${s.trueFields} true, F1 ${s.f1.toFixed(3)}; byte order right in ${s.rightOrder} of ${s.multiByte}`;
}

/** The same findings with the cut of least description length: −(L + 6 + 3 × bits that stand still inside). */
function plainly(capture: Capture, findings: Findings): Findings {
  const sessions = sessionsOf(capture);
  const groups = groupByMessage(capture);
  const messages = findings.messages.map((message, k) => {
    const taken = new Uint8Array(8 * message.length);
    for (const field of [message.counter, message.check]) {
      if (field) for (const bit of fieldBits(field)) taken[bit] = 1;
    }
    const group = groups[k];
    if (!group || message.signals.length === 0) return message;
    const { lanes, candidates } = draftSegmentation(messageRows(capture, group, sessions), taken);
    const score = ({ from, to, active, cost, block }: Candidate) =>
      block ? Number.NEGATIVE_INFINITY : -(cost + 6 + 3 * (to - from + 1 - active));
    const scored = candidates.map((list) => list.map((c) => ({ from: c.from, to: c.to, score: score(c) })));
    const cover = bestCover(lanes, [scored[0] ?? [], scored[1] ?? []], -5);
    const signals = cover.map(({ lane, index }): FoundSignal => {
      const { from, to } = candidates[lane][index] as Candidate;
      const order = from >> 3 === to >> 3 ? 'little' : lanes[lane].order;
      const start = lanes[lane].bits[order === 'little' ? from : to] as number;
      return { ...PLAIN, start, length: to - from + 1, byteOrder: order };
    });
    return { ...message, signals };
  });
  return { ...findings, messages };
}
