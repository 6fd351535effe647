/** Builds a firmware project with gcc, and plays the same events through the C and through the run of the gateway. */
import { spawnSync } from 'node:child_process';
import {
  closeSync,
  mkdirSync,
  mkdtempSync,
  openSync,
  readFileSync,
  rmSync,
  writeFileSync,
  writeSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Gateway } from '../../src/bridge/gateway.ts';
import { GatewayRun } from '../../src/bridge/runGateway.ts';
import { FLAG } from '../../src/can/frame.ts';
import { type ProjectFile, RUNTIME_FILES, type RuntimeText } from '../../src/firmware/project.ts';
import type { Provenance } from '../../src/firmware/provenance.ts';
import { traceNames, traceValues } from '../../src/firmware/trace.ts';
import { programHash } from '../../src/logic/hash.ts';
import type { StepEvents } from './events.ts';

export const RUNTIME = Object.fromEntries(
  RUNTIME_FILES.map((path) => [path, readFileSync(`src/firmware/runtime/${path}`, 'utf8')]),
) as RuntimeText;

/** A proof of one invented obligation for each guard, so that tests can write the armable form. */
export function provedFor(gateway: Gateway): Provenance {
  const proofs = gateway.stages
    .filter((stage) => stage.role === 'guard')
    .map(({ program }) => ({
      program: program.name,
      programHash: programHash(program),
      obligations: [{ name: 'invented', sentence: 'For a test only.', status: 'proved' as const }],
    }));
  return { tool: 'Bywright, test', title: 'Wagtail', buildHash: '0'.repeat(64), proofs };
}

export const WARNINGS = ['-std=c99', '-Wall', '-Wextra', '-Werror', '-pedantic'];
const C_FILES = ['gateway.c', 'main.c', 'gateway_trace.c', 'port_host.c'];

/** Whether gcc is here; under CI its absence is a failure. */
export function gccThere(): boolean {
  const there = spawnSync('gcc', ['--version']).status === 0;
  const what = 'gcc is not installed; Debian: apt install gcc libc6-dev make';
  if (!there && process.env.CI === 'true') throw new Error(what);
  if (!there) console.warn(`${what}. Tests that compile C are left out.`);
  return there;
}

/** A folder that is removed again. */
export class Workshop {
  readonly folder = mkdtempSync(join(tmpdir(), 'bywright-firmware-'));

  end(): void {
    rmSync(this.folder, { recursive: true, force: true });
  }

  write(name: string, files: ProjectFile[]): string {
    const folder = join(this.folder, name);
    mkdirSync(folder, { recursive: true });
    for (const { path, content } of files) writeFileSync(join(folder, path), content);
    return folder;
  }

  /** Compiles a project's folder; returns the program's path. Throws with gcc's words where it does not compile. */
  compile(folder: string, flags: string[], name = 'gateway_host'): string {
    const out = join(folder, name);
    const done = spawnSync('gcc', [...WARNINGS, ...flags, '-o', out, ...C_FILES], {
      cwd: folder,
      encoding: 'utf8',
    });
    if (done.status !== 0) throw new Error(`gcc: ${done.stderr}`);
    return out;
  }
}

/** Events as the host port reads them, collected in large pieces. */
export class EventFile {
  readonly path: string;
  readonly #gateway: Gateway;
  readonly #file: number;
  readonly #buffer = Buffer.alloc(1 << 20);
  #used = 0;

  constructor(path: string, gateway: Gateway) {
    this.path = path;
    this.#gateway = gateway;
    this.#file = openSync(path, 'w');
  }

  add(events: StepEvents): void {
    if (this.#used > this.#buffer.length - 64 * 80) this.#flush();
    const b = this.#buffer;
    let at = this.#used;
    if (events.restart) b[at++] = 0x52;
    for (let i = 0; i < events.frames; i++) {
      b[at++] = 0x46;
      b[at++] = events.bus[i] as number;
      b[at++] = (events.flags[i] as number) & FLAG.extended ? 1 : 0;
      const length = (b[at++] = events.length[i] as number);
      at = b.writeUInt32LE(events.id[i] as number, at);
      for (let k = 0; k < length; k++) b[at++] = events.payload[i * 64 + k] as number;
    }
    b[at++] = 0x53;
    at = b.writeUInt32LE(events.clockMs, at);
    let levels = 0;
    this.#gateway.pins.forEach((pin, p) => {
      const active = events.pins[p] === 1;
      if (active === (pin.active === 'high')) levels |= 1 << p;
    });
    at = b.writeUInt32LE(levels >>> 0, at);
    this.#used = at;
  }

  close(): void {
    this.#flush();
    closeSync(this.#file);
  }

  #flush(): void {
    writeSync(this.#file, this.#buffer, 0, this.#used);
    this.#used = 0;
  }
}

/** Runs a gateway on events and hashes every step as port_host.c does. */
export class HashingRun {
  readonly run: GatewayRun;
  readonly values: Uint32Array;
  readonly names: string[];

  constructor(gateway: Gateway) {
    this.run = new GatewayRun(gateway);
    this.names = traceNames(gateway);
    this.values = new Uint32Array(this.names.length);
  }

  step(events: StepEvents): number {
    const { run, values } = this;
    if (events.restart) run.reset();
    for (let i = 0; i < events.frames; i++) {
      run.receive(
        events.bus[i] as number,
        events.id[i] as number,
        events.flags[i] as number,
        events.payload,
        i * 64,
        events.length[i] as number,
      );
    }
    run.step(events.clockMs, events.pins);
    let hash = 2166136261;
    const { sent } = run;
    for (let i = 0; i < sent.count; i++) {
      const tx = run.gateway.tx[sent.message[i] as number]!;
      hash = Math.imul(hash ^ tx.bus, 16777619);
      hash = Math.imul(hash ^ tx.id, 16777619);
      hash = Math.imul(hash ^ (tx.extended ? 1 : 0), 16777619);
      hash = Math.imul(hash ^ tx.length, 16777619);
      const from = sent.offset[i] as number;
      for (let k = 0; k < tx.length; k++)
        hash = Math.imul(hash ^ (sent.payload[from + k] as number), 16777619);
    }
    traceValues(run, values);
    for (let k = 0; k < values.length; k++) hash = Math.imul(hash ^ (values[k] as number), 16777619);
    return hash >>> 0;
  }

  /** The step just made, as the host port prints it. */
  text(): string[] {
    const { run, values, names } = this;
    const lines: string[] = [];
    for (let i = 0; i < run.sent.count; i++) {
      const tx = run.gateway.tx[run.sent.message[i] as number]!;
      const from = run.sent.offset[i] as number;
      const bytes = [...run.sent.payload.subarray(from, from + tx.length)];
      const hex = bytes.map((v) => ` ${v.toString(16).toUpperCase().padStart(2, '0')}`).join('');
      lines.push(`sent ${tx.bus} ${tx.id.toString(16).toUpperCase().padStart(8, '0')}${hex}`);
    }
    return [...lines, ...names.map((name, k) => `${name} ${(values[k] as number) | 0}`)];
  }
}

/** Hashes that a compiled project prints for a file of events, one per step. */
export function hashesOf(program: string, eventPath: string, env: Record<string, string> = {}): Uint32Array {
  const input = openSync(eventPath, 'r');
  try {
    const done = spawnSync(program, [], {
      stdio: [input, 'pipe', 'pipe'],
      maxBuffer: 1 << 28,
      env: { ...process.env, ...env },
    });
    if (done.status !== 0)
      throw new Error(
        `${program} ended with ${done.status ?? done.signal}: ${done.stderr.toString().slice(0, 2000)}`,
      );
    const bytes = done.stdout;
    return new Uint32Array(bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.length));
  } finally {
    closeSync(input);
  }
}

/** What the compiled project computed in one step, line by line. */
export function shownStep(program: string, eventPath: string, step: number): string[] {
  const input = openSync(eventPath, 'r');
  try {
    const done = spawnSync(program, [], {
      stdio: [input, 'pipe', 'pipe'],
      encoding: 'utf8',
      maxBuffer: 1 << 24,
      env: { ...process.env, SHOW_STEP: String(step) },
    });
    return done.stdout.trimEnd().split('\n');
  } finally {
    closeSync(input);
  }
}

/** The first difference in words; null where every step is equal. `make` gives a fresh scenario of the same seed. */
export function firstDifference(
  gateway: Gateway,
  ours: Uint32Array,
  theirs: Uint32Array,
  program: string,
  eventPath: string,
  make: () => { next(): StepEvents },
): string | null {
  if (ours.length !== theirs.length) return `the run made ${ours.length} steps, the C ${theirs.length}`;
  const step = ours.findIndex((hash, i) => hash !== theirs[i]);
  if (step < 0) return null;
  const scenario = make();
  const again = new HashingRun(gateway);
  for (let k = 0; k <= step; k++) again.step(scenario.next());
  const [run, c] = [again.text(), shownStep(program, eventPath, step)];
  const line = run.findIndex((text, i) => text !== c[i]);
  return `step ${step}: the run says "${run[line]}", the C says "${c[line]}"`;
}
