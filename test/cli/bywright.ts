/** Runs the real command in a process of its own, as a user would. */
import { spawnSync } from 'node:child_process';
import { resolve } from 'node:path';

export interface Ran {
  code: number | null;
  out: string;
  err: string;
}

export function bywright(...args: string[]): Ran {
  const done = spawnSync(process.execPath, [resolve('bin/bywright.mjs'), ...args], {
    encoding: 'utf8',
    timeout: 120_000,
    env: { ...process.env, NO_COLOR: '1' },
  });
  return { code: done.status, out: done.stdout, err: done.stderr };
}
