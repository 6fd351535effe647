/**
 * Spoilt recordings for every reader: none may crash, hang, take memory without bound or give frames that no bus carries.
 * Each input is watched from another thread, so that a reader that never returns is counted and the rest goes on.
 * Run: node dist/bench/fuzz.js [--runs 100000] [--seed 1] [--from 0] [--workers 2] [--limit-ms 3000] [--limit-mb 128]
 *   [--reader NAME]
 * One input again: node dist/bench/fuzz.js --seed 1 --only 12345 [--save FILE]
 */
import { writeFileSync } from 'node:fs';
import { parseArgs } from 'node:util';
import { isMainThread, parentPort, Worker, workerData } from 'node:worker_threads';
import { added, type Campaign, type Failure, fuzz, inputOf, type Tallies } from './fuzz/campaign.ts';
import { feed, type Limits } from './fuzz/feed.ts';
import { type Target, targets, tidy, turnsOf } from './fuzz/targets.ts';

/** Runs that a worker gets at a time. */
const PORTION = 5000;
const LOOK_EVERY_MS = 250;
/** Heap of a worker: a reader that fills it has no bound. */
const HEAP_MB = 1024;

interface Task {
  seed: number;
  from: number;
  to: number;
  limits: Limits;
  reader: string | undefined;
  /** The run that is at work, and how often that changed. */
  shared: SharedArrayBuffer;
}

if (isMainThread) await main();
else {
  const { seed, from, to, limits, reader, shared } = workerData as Task;
  const at = new Int32Array(shared);
  parentPort?.postMessage(await fuzz(seed, from, to, limits, (run) => Atomics.store(at, 0, run), reader));
}

async function main(): Promise<void> {
  const { values } = parseArgs({
    options: {
      runs: { type: 'string', default: '100000' },
      seed: { type: 'string', default: '1' },
      from: { type: 'string', default: '0' },
      workers: { type: 'string', default: '2' },
      'limit-ms': { type: 'string', default: '3000' },
      'limit-mb': { type: 'string', default: '128' },
      reader: { type: 'string' },
      only: { type: 'string' },
      save: { type: 'string' },
    },
  });
  const seed = Number(values.seed);
  const limits = { ms: Number(values['limit-ms']), bytes: Number(values['limit-mb']) * 1e6 };
  if (values.only !== undefined) {
    await again(seed, Number(values.only), limits, values.reader, values.save);
    return;
  }
  const { reader } = values;
  const from = Number(values.from);
  const to = from + Number(values.runs);
  const turns = turnsOf(await targets(), reader);
  const start = performance.now();
  let next = from;
  let tallies: Tallies = {};
  const failures: Failure[] = [];
  const hangs: Failure[] = [];
  const work = async () => {
    while (next < to) {
      const portion = { from: next, to: Math.min(to, next + PORTION) };
      next = portion.to;
      for (let run = portion.from; run < portion.to; ) {
        const { campaign, stuck } = await watched({ seed, from: run, to: portion.to, limits, reader }, turns);
        if (campaign !== null) {
          tallies = added(tallies, campaign.tallies);
          failures.push(...campaign.failures);
          break;
        }
        // The runs before the one that hung are made again, this time without it.
        hangs.push(stuck);
        if (stuck.run > run) {
          const before = await watched({ seed, from: run, to: stuck.run, limits, reader }, turns);
          if (before.campaign !== null) {
            tallies = added(tallies, before.campaign.tallies);
            failures.push(...before.campaign.failures);
          }
        }
        run = stuck.run + 1;
      }
    }
  };
  await Promise.all(Array.from({ length: Math.max(1, Number(values.workers)) }, work));
  report(tallies, failures, hangs, seed, from, to, (performance.now() - start) / 1000, limits);
}

/** A portion in a worker; where one run takes longer than ten limits, or the worker dies, that run is `stuck`. */
function watched(
  task: Omit<Task, 'shared'>,
  turns: readonly Target[],
): Promise<{ campaign: Campaign | null; stuck: Failure }> {
  const shared = new SharedArrayBuffer(4);
  const at = new Int32Array(shared);
  at[0] = task.from;
  return new Promise((resolve) => {
    const worker = new Worker(new URL(import.meta.url), {
      workerData: { ...task, shared } satisfies Task,
      resourceLimits: { maxOldGenerationSizeMb: HEAP_MB },
    });
    let last = -1;
    let since = performance.now();
    const watch = setInterval(() => {
      const run = Atomics.load(at, 0);
      if (run !== last) {
        last = run;
        since = performance.now();
      } else if (performance.now() - since > 10 * task.limits.ms) give('slow', 'no return');
    }, LOOK_EVERY_MS);
    const give = (outcome: Failure['outcome'], why: string) => {
      const run = Atomics.load(at, 0);
      clearInterval(watch);
      void worker.terminate();
      resolve({
        campaign: null,
        stuck: { run, target: turns[run % turns.length]?.name ?? '', outcome, why },
      });
    };
    worker.once('message', (campaign: Campaign) => {
      clearInterval(watch);
      resolve({ campaign, stuck: { run: -1, target: '', outcome: 'read', why: '' } });
    });
    worker.once('error', (error: NodeJS.ErrnoException) =>
      give(error.code === 'ERR_WORKER_OUT_OF_MEMORY' ? 'memory' : 'crash', error.stack ?? error.message),
    );
  });
}

async function again(
  seed: number,
  run: number,
  limits: Limits,
  reader: string | undefined,
  save: string | undefined,
): Promise<void> {
  const all = await targets();
  const others = all.flatMap(({ seeds }) => seeds);
  const { target, pieces, packed } = inputOf(seed, run, turnsOf(all, reader), others);
  const bytes = Buffer.concat(pieces);
  console.log(
    `run ${run} of seed ${seed}: ${target.name}, ${packed}, ${bytes.length} bytes in ${pieces.length} pieces`,
  );
  if (save) writeFileSync(save, bytes);
  console.log(await feed(target, pieces, packed, limits));
  await tidy();
}

function report(
  tallies: Tallies,
  failures: readonly Failure[],
  hangs: readonly Failure[],
  seed: number,
  from: number,
  to: number,
  seconds: number,
  limits: Limits,
): void {
  const sum = Object.values(tallies).reduce((all, t) => all + t.runs, 0);
  console.log(
    `seed ${seed}, runs ${from} to ${to - 1}, ${sum + hangs.length} inputs in ${seconds.toFixed(0)} s (${Math.round(sum / seconds)} a second), limits ${limits.ms} ms and ${limits.bytes / 1e6} MB an input, node ${process.version}`,
  );
  console.log(
    'reader       inputs     gzip   read    refused  crashes  nonsense  hangs  memory  slowest ms (run)  most MB',
  );
  for (const [name, t] of Object.entries(tallies)) {
    const hung = hangs.filter(({ target, outcome }) => target === name && outcome === 'slow').length;
    const full = hangs.filter(({ target, outcome }) => target === name && outcome === 'memory').length;
    const died = hangs.filter(({ target, outcome }) => target === name && outcome === 'crash').length;
    console.log(
      [
        name.padEnd(12),
        String(t.runs).padStart(7),
        String(t.gzip).padStart(7),
        String(t.outcomes.read).padStart(8),
        String(t.outcomes.refused).padStart(8),
        String(t.outcomes.crash + died).padStart(7),
        String(t.outcomes.nonsense).padStart(8),
        String(t.outcomes.slow + hung).padStart(7),
        String(t.outcomes.memory + full).padStart(6),
        `${t.slowestMs.toFixed(0)} (${t.slowestRun})`.padStart(16),
        (t.mostBytes / 1e6).toFixed(1).padStart(8),
      ].join('  '),
    );
  }
  for (const { run, target, outcome, why } of [...hangs, ...failures].slice(0, 20))
    console.log(
      `\n${outcome}: ${target}, run ${run}: ${why}\n  again: node dist/bench/fuzz.js --seed ${seed} --only ${run}`,
    );
  if (hangs.length + failures.length > 0) process.exitCode = 1;
}
