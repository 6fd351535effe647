/**
 * Everything findings give of an hour at the wheel: 100 messages, eight million frames, made from a seed. Prints wall clock
 * and processor time of all that `findAll` gives, in the calling thread alone and shared out to threads, and of relations,
 * beside a bare pass over the same columns (every payload byte read once, message by message); the longest time for which
 * the calling thread was not free; and the greatest memory beside the capture's own.
 * Run: node dist/bench/findingsSpeed.js [threads, default 2; 0: the calling thread alone] [seconds of driving, default 3600]
 */
import { findInThreads } from '../src/build/findings/threads.ts';
import { groupByMessage } from '../src/capture/select.ts';
import { relate } from '../src/findings/relations/index.ts';
import { madeHour } from './cars/hour.ts';

const SEED = 20261;
const threads = Number(process.argv[2] ?? 2);
const seconds = Number(process.argv[3] ?? 3600);

const capture = madeHour(SEED, seconds);
const own = [
  capture.time,
  capture.id,
  capture.bus,
  capture.flags,
  capture.length,
  capture.offset,
  capture.payload,
];
const bytes = own.reduce((sum, column) => sum + column.byteLength, 0);
console.log(
  `seed ${SEED}: ${capture.count} frames in ${seconds} s, ${megabytes(bytes)} of columns; ${threads} threads; node ${process.version}`,
);
const bare = await measured('bare pass', async () => barePass());
const findings = await measured('findings', () => findInThreads(capture, { threads }));
const { messages } = findings.value;
console.log(
  `  ${messages.length} messages, ${messages.filter((m) => m.counter).length} counters, ${messages.filter((m) => m.check).length} check fields, ${messages.reduce((n, m) => n + m.signals.length, 0)} fields, ${findings.value.senders.groups.length} clocks`,
);
const ties = await measured('relations', () => relate(capture, findings.value));
console.log(`  ${ties.value.relations.length} relations`);
console.log(
  `findings and relations: ${((findings.cpuS + ties.cpuS) / bare.cpuS).toFixed(0)} × the processor time of the bare pass`,
);

function barePass(): number {
  const { offset, length, payload } = capture;
  let sum = 0;
  for (const { frames } of groupByMessage(capture)) {
    for (let k = 0; k < frames.length; k++) {
      const f = frames[k] as number;
      const from = offset[f] as number;
      for (let at = from; at < from + (length[f] as number); at++) sum += payload[at] as number;
    }
  }
  return sum;
}

/** Runs `work` and prints what it took; a timer tells how long the thread was not free. */
async function measured<T>(what: string, work: () => Promise<T>): Promise<{ value: T; cpuS: number }> {
  let held = 0;
  let most = process.memoryUsage().rss;
  let last = performance.now();
  const timer = setInterval(() => {
    const now = performance.now();
    held = Math.max(held, now - last);
    last = now;
    most = Math.max(most, process.memoryUsage().rss);
  }, 20);
  const cpu = process.cpuUsage();
  const started = performance.now();
  const value = await work();
  const wallS = (performance.now() - started) / 1000;
  const { user, system } = process.cpuUsage(cpu);
  held = Math.max(held, performance.now() - last);
  clearInterval(timer);
  most = Math.max(most, process.memoryUsage().rss);
  const cpuS = (user + system) / 1e6;
  console.log(
    `${what}: ${wallS.toFixed(1)} s, ${cpuS.toFixed(1)} s of processor; thread held for ${held.toFixed(0)} ms at most; greatest memory seen ${megabytes(most)} (${(most / bytes).toFixed(1)} × the columns)`,
  );
  return { value, cpuS };
}

function megabytes(count: number): string {
  return `${(count / 1e6).toFixed(0)} MB`;
}
