/** Runs the real command in a process of its own, as a user would. */
import { type ChildProcess, type SpawnOptions, spawn, spawnSync } from 'node:child_process';
import { resolve } from 'node:path';
import { beforeAll } from 'vitest';

export interface Ran {
  code: number | null;
  out: string;
  err: string;
}

const script = resolve('bin/bywright.mjs');
const env = { ...process.env, NO_COLOR: '1' };

/** Compiles what changed before the first test, so that no test is told of it. */
beforeAll(() => {
  spawnSync(process.execPath, [script, '--version'], { env });
});

export function bywright(...args: string[]): Ran {
  const done = spawnSync(process.execPath, [script, ...args], { encoding: 'utf8', timeout: 120_000, env });
  return { code: done.status, out: done.stdout, err: done.stderr };
}

/** The same, running on while the test does something to it. */
export function started(args: readonly string[], options: SpawnOptions = {}): Started {
  const child = spawn(process.execPath, [script, ...args], { env, stdio: 'pipe', ...options });
  const ran = { out: '', err: '' };
  child.stdout?.on('data', (part) => (ran.out += part));
  child.stderr?.on('data', (part) => (ran.err += part));
  const ended = new Promise<Ran>((done) => child.once('close', (code) => done({ code, ...ran })));
  return { child, ended, soFar: ran };
}

export interface Started {
  child: ChildProcess;
  ended: Promise<Ran>;
  soFar: { out: string; err: string };
}

/** A stack trace of Node, in whatever stream. */
export const STACK_TRACE = /^\s+at .*[:(]\d+|node:internal/m;
