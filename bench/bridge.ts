/**
 * How fast a gateway runs: the demo's bench recording through the gateway of the demo build, against the C of the same
 * gateway compiled by gcc on the same machine in the same run. Both hear every frame, make every step and collect what is sent.
 * Run: node dist/bench/bridge.js [rounds]
 */
import { execFileSync, spawnSync } from 'node:child_process';
import { closeSync, mkdtempSync, openSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { BENCH_1, DEMO_SEED, record } from '../demo/generator/index.ts';
import type { Gateway } from '../src/bridge/gateway.ts';
import { through } from '../src/bridge/through.ts';
import { runtimeText } from '../src/build/firmwareFiles.ts';
import { gatewayOf } from '../src/build/gatewayOf.ts';
import { loadBuild } from '../src/build/load.ts';
import { FLAG } from '../src/can/frame.ts';
import type { Capture } from '../src/capture/store.ts';
import { firmwareProject } from '../src/firmware/project.ts';

const rounds = Number(process.argv[2] ?? 40);
const folder = mkdtempSync(join(tmpdir(), 'bywright-bench-'));

async function measure(): Promise<void> {
  const { build } = await loadBuild('demo');
  if (!build) throw new Error('the demo build does not load');
  const gateway = gatewayOf(build);
  const capture = record(BENCH_1, DEMO_SEED);
  let steps = 0;
  let sent = through(gateway, capture, { watch: () => steps++ }).count;
  const start = performance.now();
  for (let k = 0; k < rounds; k++) sent += through(gateway, capture).count;
  const own = (performance.now() - start) / 1000 / rounds;
  const seconds = steps * (gateway.stepMs / 1000);
  console.log(
    `demo seed ${DEMO_SEED}: ${capture.count} frames, ${steps} steps, ${gateway.stages.length} programs, ${sent / (rounds + 1)} frames sent`,
  );
  console.log(
    `run: ${(own * 1000).toFixed(1)} ms a round, ${(steps / own / 1e6).toFixed(2)} million steps a second, ${Math.round(seconds / own)} × real time`,
  );
  const c = await timeOfC(gateway, capture);
  if (c === null) console.log('gcc: not found (Debian package gcc)');
  else
    console.log(
      `C, gcc -O2: ${(c * 1000).toFixed(1)} ms a round; the run takes ${(own / c).toFixed(1)} × as long`,
    );
}

/** Seconds a round of the compiled project, its reading of the event file included. */
async function timeOfC(gateway: Gateway, capture: Capture): Promise<number | null> {
  if (spawnSync('gcc', ['--version']).status !== 0) return null;
  const provenance = { tool: 'bench', title: 'demo', buildHash: '', proofs: [] };
  const files = firmwareProject(gateway, 'bench', provenance, await runtimeText());
  for (const { path, content } of files) writeFileSync(join(folder, path), content);
  const sources = ['gateway.c', 'main.c', 'gateway_trace.c', 'port_host.c'];
  execFileSync('gcc', ['-std=c99', '-O2', '-o', 'host', ...sources], { cwd: folder });
  const events = join(folder, 'events');
  const round = eventsOf(gateway, capture);
  writeFileSync(events, Buffer.concat(Array.from({ length: rounds }, () => round)));
  const input = openSync(events, 'r');
  const start = performance.now();
  spawnSync(join(folder, 'host'), { stdio: [input, 'ignore', 'inherit'] });
  const seconds = (performance.now() - start) / 1000;
  closeSync(input);
  return seconds / rounds;
}

/** One round as port_host.c reads it: start anew, then frames and steps. */
function eventsOf(gateway: Gateway, capture: Capture): Buffer {
  const pieces: Buffer[] = [];
  const { time, bus, id, flags, length, offset, payload, count } = capture;
  const start = time[0] as number;
  const steps = Math.floor((((time[count - 1] as number) - start) * 1000) / gateway.stepMs) + 1;
  let frame = 0;
  for (let k = 1; k <= steps; k++) {
    const now = start + (k * gateway.stepMs) / 1000;
    if (k === 1) pieces.push(Buffer.from('R'));
    for (; frame < count && (time[frame] as number) < now; frame++) {
      const head = Buffer.alloc(8);
      const extended = (flags[frame] as number) & FLAG.extended ? 1 : 0;
      head.set([0x46, bus[frame] as number, extended, length[frame] as number]);
      head.writeUInt32LE(id[frame] as number, 4);
      const from = offset[frame] as number;
      pieces.push(head, Buffer.from(payload.subarray(from, from + (length[frame] as number))));
    }
    const step = Buffer.alloc(9);
    step[0] = 0x53;
    step.writeUInt32LE((k * gateway.stepMs) >>> 0, 1);
    pieces.push(step);
  }
  return Buffer.concat(pieces);
}

try {
  await measure();
} finally {
  rmSync(folder, { recursive: true, force: true });
}
