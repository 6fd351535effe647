/** Ctrl-C at work: exit code 3, one sentence, nothing half-written. */
import { cpSync, mkdtempSync, readdirSync, readlinkSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, describe, expect, test } from 'vitest';
import { bywright, type Started, started } from './bywright.ts';

const folder = mkdtempSync(join(tmpdir(), 'bywright stopped '));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** 360,000 frames of 40 messages, some 15 MB: enough reading and finding to be stopped in. */
function longRecording(): string {
  const path = join(folder, 'long.csv');
  const lines: string[] = [];
  for (let i = 0; i < 12_000; i++) {
    const walk = Math.round(2000 + 900 * Math.sin(i / 400) + 300 * Math.sin(i / 37 + (i % 40)));
    lines.push(
      `${(i / 1000).toFixed(6)},0,${(0x100 + (i % 40)).toString(16)},0,${(0x1000_0000 + walk).toString(16)}\n`,
    );
  }
  writeFileSync(path, `t,bus,id,ext,data\n${lines.join('').repeat(30)}`);
  return path;
}

/** Until the condition holds of the running command; fails where the command ends before. */
async function until(run: Started, holds: () => boolean): Promise<void> {
  while (!holds()) {
    expect(run.child.exitCode, run.soFar.err).toBeNull();
    await sleep(5);
  }
}

function holdsOpen(pid: number, path: string): boolean {
  return readdirSync(`/proc/${pid}/fd`).some((fd) => {
    try {
      return readlinkSync(`/proc/${pid}/fd/${fd}`) === path;
    } catch {
      return false;
    }
  });
}

const STOPPED = 'bywright: stopped on request; nothing half-written is left';

describe.skipIf(process.platform !== 'linux')('Ctrl-C', () => {
  test('during an import leaves the captures as they were', async () => {
    const build = join(folder, 'van');
    expect(bywright('new', build).code).toBe(0);
    const path = longRecording();
    const run = started(['import', build, path]);
    await until(run, () => holdsOpen(run.child.pid as number, path));
    run.child.kill('SIGINT');
    const { code, err } = await run.ended;
    expect(said(err)).toEqual([STOPPED]);
    expect(code).toBe(3);
    expect(readdirSync(join(build, 'captures'))).toEqual(['README.txt']);
  });

  test('during find prints no finding', async () => {
    const run = started(['find', longRecording()]);
    await until(run, () => run.soFar.err.includes('Reading'));
    run.child.kill('SIGINT');
    const { code, out, err } = await run.ended;
    expect(said(err).at(-1)).toBe(STOPPED);
    expect(code).toBe(3);
    expect(out).toBe('');
  });

  test('during a proof keeps no proof; the system’s wish to end is heard alike', async () => {
    const build = join(folder, 'demo');
    cpSync(resolve('demo'), build, {
      recursive: true,
      filter: (path) => !/[\\/](captures|evidence|out|generator|\.cache)$/.test(path),
    });
    for (const signal of ['SIGINT', 'SIGTERM'] as const) {
      // The whole line, because it says when the proof begins.
      const run = started(['run', build, '--no-serve']);
      await until(run, () => run.soFar.err.includes('Budget'));
      run.child.kill(signal);
      const { code, err } = await run.ended;
      expect(said(err).at(-1)).toBe(STOPPED);
      expect(code, signal).toBe(3);
      expect(readdirSync(build)).not.toContain('evidence');
    }
  });
});

/** Lines on standard error, without the one that says that stopping takes a moment. */
function said(err: string): string[] {
  return err.split('\n').filter((line) => line !== '' && !line.startsWith('Stopping;'));
}
