/** A disk that is really full: a small one of its own is mounted, and everything that writes is let loose on it. */
import { spawnSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import {
  cpSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statfsSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { afterAll, beforeEach, describe, expect, test } from 'vitest';
import { bywright, STACK_TRACE } from './bywright.ts';

const folder = mkdtempSync(join(tmpdir(), 'bywright full disk '));
const disk = join(folder, 'disk');
mkdirSync(disk);
const mounted = mount(64);
afterAll(() => {
  if (mounted) spawnSync('umount', [disk]);
  rmSync(folder, { recursive: true, force: true });
});
if (!mounted) console.warn('Skipped: mounting a small disk is not permitted here; run these tests as root.');

function mount(kib: number, ...more: string[]): boolean {
  if (process.platform !== 'linux') return false;
  const args = ['-t', 'tmpfs', '-o', [...more, `size=${kib}k`].join(','), 'tmpfs', disk];
  return spawnSync('mount', args).status === 0;
}

/** Names and content of all that lies on the disk. */
function content(): Record<string, string> {
  const files = readdirSync(disk, { recursive: true, withFileTypes: true }).filter((e) => e.isFile());
  return Object.fromEntries(
    files.map((e) => {
      const path = join(e.parentPath, e.name);
      return [path, createHash('sha256').update(readFileSync(path)).digest('hex')];
    }),
  );
}

/** Leaves so many KiB free. */
function fill(freeKib: number): void {
  const { bavail, bsize } = statfsSync(disk);
  writeFileSync(join(disk, 'fill'), Buffer.alloc(Math.max(0, bavail * bsize - freeKib * 1024)));
}

/** Text files of the demo build, beside the disk. */
const demo = join(folder, 'demo');
cpSync(resolve('demo'), demo, {
  recursive: true,
  filter: (path) => !/[\\/](captures|evidence|out|generator|\.cache)$/.test(path),
});

/** 8000 frames of Wagtail's road speed on bus 1, some 300 KB as pcapng. */
const recording = join(folder, 'drive.csv');
writeFileSync(
  recording,
  `t,bus,id,ext,data\n${Array.from({ length: 8000 }, (_, i) => `${(i * 0.02).toFixed(3)},1,0E6,0,${(i & 0xffff).toString(16).padStart(12, '0')}\n`).join('')}`,
);

describe.skipIf(!mounted)('on a full disk', () => {
  beforeEach(() => {
    for (const name of readdirSync(disk)) rmSync(join(disk, name), { recursive: true, force: true });
  });

  test('a new build leaves nothing of itself', () => {
    fill(4);
    const before = content();
    const { code, err } = bywright('new', join(disk, 'van'));
    expect(err).toMatch(
      /^bywright: .*van could not be written because the disk is full: nothing is left of it\n$/,
    );
    expect(code).toBe(2);
    expect(content()).toEqual(before);
    expect(readdirSync(disk)).toEqual(['fill']);
  });

  test('import, bridge, dossier and decode say so in one sentence and leave what was there', () => {
    mkdirSync(join(disk, 'van/captures'), { recursive: true });
    cpSync(join(demo, 'build.yaml'), join(disk, 'van/build.yaml'));
    writeFileSync(join(disk, 'dossier.html'), 'the old one');
    fill(16);
    const before = content();
    const runs: string[][] = [
      ['import', join(disk, 'van'), recording],
      ['bridge', demo, recording, join(disk, 'sent.pcapng')],
      ['dossier', demo, join(disk, 'dossier.html')],
      ['decode', demo, recording, '--csv', join(disk, 'values.csv')],
    ];
    for (const args of runs) {
      const { code, err } = bywright(...args);
      expect(err.split('\n').filter((line) => line.startsWith('bywright: '))).toHaveLength(1);
      expect(err, args[0]).toMatch(/the disk is full/);
      expect(err).not.toMatch(STACK_TRACE);
      expect(code, args[0]).toBe(2);
      expect(content(), args[0]).toEqual(before);
    }
  });

  test('a firmware project is replaced whole or stays what it was: no new header beside old code', () => {
    expect(mount(400, 'remount')).toBe(true);
    const out = join(disk, 'firmware');
    expect(bywright('firmware', demo, out, '--bench').code).toBe(0);
    const guard = join(demo, 'guard.yaml');
    writeFileSync(guard, readFileSync(guard, 'utf8').replace('arm_hold_ms: 1000', 'arm_hold_ms: 1500'));
    fill(60);
    const before = content();
    const { code, err } = bywright('firmware', demo, out, '--bench');
    expect(err).toMatch(/^bywright: .*firmware\/[\w.]+ could not be saved because the disk is full/m);
    expect(code).toBe(2);
    expect(content()).toEqual(before);
    rmSync(join(disk, 'fill'));
    expect(bywright('firmware', demo, out, '--bench').code).toBe(0);
    expect(Object.keys(content())).toEqual(Object.keys(before).filter((path) => !path.endsWith('fill')));
    expect(content()).not.toEqual(before);
  });
});
