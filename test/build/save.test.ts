import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdirSync, readdirSync, readFileSync, statSync, symlinkSync, writeFileSync } from 'node:fs';
import { hostname } from 'node:os';
import { join, resolve } from 'node:path';
import { build } from 'vite';
import { describe, expect, test } from 'vitest';
import { LockError, withLock } from '../../src/build/lock.ts';
import { contentHash, type SaveDisk, SaveError, saveText, writeFileAtomic } from '../../src/build/save.ts';
import { folderWith, UNITS } from './folder.ts';

function failing(at: keyof SaveDisk, code: string): SaveDisk {
  const fail = () => Promise.reject(Object.assign(new Error(code), { code }));
  return {
    async writeThrough(path, bytes) {
      // A full disk takes the first part and then no more.
      writeFileSync(path, at === 'writeThrough' ? bytes.subarray(0, bytes.length >> 1) : bytes);
      if (at === 'writeThrough') await fail();
    },
    rename: async (from, to) => {
      if (at === 'rename') return fail();
      writeFileSync(to, readFileSync(from));
    },
    syncFolder: at === 'syncFolder' ? fail : async () => undefined,
  };
}

test('a save replaces the text, keeps the mode of the file and leaves no other file behind', async () => {
  const folder = folderWith({ 'units.yaml': UNITS });
  const mode = statSync(join(folder, 'units.yaml')).mode;
  await saveText(folder, 'units.yaml', `${UNITS}# end\n`, contentHash(UNITS));
  expect(readFileSync(join(folder, 'units.yaml'), 'utf8')).toBe(`${UNITS}# end\n`);
  expect(statSync(join(folder, 'units.yaml')).mode).toBe(mode);
  expect(readdirSync(folder).sort()).toEqual(['.cache', 'units.yaml']);
  expect(readdirSync(join(folder, '.cache'))).toEqual([]);
});

test('saving what was read writes nothing', async () => {
  const folder = folderWith({ 'units.yaml': UNITS });
  const before = statSync(join(folder, 'units.yaml'), { bigint: true });
  await saveText(folder, 'units.yaml', UNITS, contentHash(UNITS), {
    disk: failing('writeThrough', 'ENOSPC'),
  });
  const after = statSync(join(folder, 'units.yaml'), { bigint: true });
  expect([after.ino, after.mtimeNs]).toEqual([before.ino, before.mtimeNs]);
});

test('a file that someone else changed, removed or created is not overwritten', async () => {
  const folder = folderWith({ 'units.yaml': UNITS });
  const save = (file: string, hash: string | null) => saveText(folder, file, 'new\n', hash);
  await expect(save('units.yaml', contentHash('older'))).rejects.toThrow(
    'units.yaml was changed by someone else since it was read: nothing was saved; load it again and repeat the change',
  );
  await expect(save('units.yaml', null)).rejects.toThrow('has been created by someone else');
  await expect(save('buses.yaml', contentHash('gone'))).rejects.toThrow('was removed by someone else');
  expect(readFileSync(join(folder, 'units.yaml'), 'utf8')).toBe(UNITS);
});

describe('after a failure the old file is whole and nothing else is there', () => {
  const cases: [keyof SaveDisk, string, RegExp][] = [
    ['writeThrough', 'ENOSPC', /disk is full; the old content is unchanged: free some space/],
    ['writeThrough', 'EIO', /could not be saved \(EIO\)/],
    ['rename', 'EACCES', /may not write there/],
  ];
  for (const [at, code, sentence] of cases) {
    test(`${code} in ${at}`, async () => {
      const folder = folderWith({ 'units.yaml': UNITS });
      const saving = saveText(folder, 'units.yaml', 'new\n', contentHash(UNITS), { disk: failing(at, code) });
      await expect(saving).rejects.toBeInstanceOf(SaveError);
      await expect(saving).rejects.toThrow(sentence);
      expect(readFileSync(join(folder, 'units.yaml'), 'utf8')).toBe(UNITS);
      expect(readdirSync(folder).sort()).toEqual(['.cache', 'units.yaml']);
      expect(readdirSync(join(folder, '.cache'))).toEqual([]);
    });
  }
});

test('a process killed in the middle of saving leaves the old or the new text, and the next save tidies up', async () => {
  const folder = folderWith({ 'units.yaml': 'a'.repeat(2_000_000) });
  const bundled = folderWith({});
  await build({
    configFile: false,
    logLevel: 'silent',
    ssr: { noExternal: true },
    build: {
      ssr: resolve('src/build/save.ts'),
      outDir: bundled,
      emptyOutDir: false,
      rollupOptions: { output: { entryFileNames: 'save.mjs' } },
    },
  });
  writeFileSync(
    join(bundled, 'loop.mjs'),
    `import { saveText, contentHash } from './save.mjs';
     const text = (i) => (i % 2 ? 'a' : 'b').repeat(2_000_000);
     const was = (await import('node:fs')).readFileSync(process.argv[2] + '/units.yaml', 'utf8');
     let hash = contentHash(was);
     for (let i = was[0] === 'a' ? 0 : 1; ; i++) {
       await saveText(process.argv[2], 'units.yaml', text(i), hash);
       hash = contentHash(text(i));
       if (i === 1) process.stdout.write('going');
     }`,
  );
  for (let round = 0; round < 4; round++) {
    const child = spawn(process.execPath, [join(bundled, 'loop.mjs'), folder], {
      stdio: ['ignore', 'pipe', 'inherit'],
    });
    await once(child.stdout, 'data');
    await new Promise((done) => setTimeout(done, 4 * round));
    child.kill('SIGKILL');
    await once(child, 'exit');
    const text = readFileSync(join(folder, 'units.yaml'), 'utf8');
    expect(text === 'a'.repeat(2_000_000) || text === 'b'.repeat(2_000_000)).toBe(true);
    await saveText(folder, 'units.yaml', `${'b'.repeat(1_999_999)}c`, contentHash(text));
    expect(readdirSync(folder).sort()).toEqual(['.cache', 'units.yaml']);
    expect(readdirSync(join(folder, '.cache'))).toEqual([]);
  }
});

test('nothing is saved outside the build, not by dots and not through a link', async () => {
  const outside = folderWith({ 'secret.yaml': 'x' });
  const folder = folderWith({});
  mkdirSync(join(folder, 'dictionary'));
  symlinkSync(join(outside, 'secret.yaml'), join(folder, 'units.yaml'));
  await expect(saveText(folder, '../escape.yaml', 'x', null)).rejects.toThrow('outside the build');
  await expect(saveText(folder, 'units.yaml', 'new', contentHash('x'))).rejects.toThrow(
    'leads out of the build',
  );
  expect(readFileSync(join(outside, 'secret.yaml'), 'utf8')).toBe('x');
});

test('a file written anywhere is never there half-written', async () => {
  const folder = folderWith({ 'out.csv': 'old' });
  const path = join(folder, 'out.csv');
  await expect(writeFileAtomic(path, 'new', failing('writeThrough', 'ENOSPC'))).rejects.toThrow(
    'disk is full',
  );
  expect(readFileSync(path, 'utf8')).toBe('old');
  await writeFileAtomic(path, 'new');
  expect(readFileSync(path, 'utf8')).toBe('new');
});

describe('one writer at a time', () => {
  test('writers in one process take turns', async () => {
    const folder = folderWith({});
    let inside = 0;
    let most = 0;
    await Promise.all(
      Array.from({ length: 8 }, () =>
        withLock(folder, async () => {
          most = Math.max(most, ++inside);
          await new Promise((resolve) => setTimeout(resolve, 2));
          inside--;
        }),
      ),
    );
    expect(most).toBe(1);
  });

  test('a second writer is told who is writing and since when', async () => {
    const folder = folderWith({});
    const child = spawn(process.execPath, ['-e', 'setInterval(() => {}, 1000)']);
    const since = new Date().toISOString();
    try {
      mkdirSync(join(folder, '.cache'));
      const lock = JSON.stringify({ pid: child.pid, host: hostname(), since, token: 't' });
      writeFileSync(join(folder, '.cache/lock'), lock);
      const waiting = withLock(folder, async () => 1, { waitMs: 50 });
      await expect(waiting).rejects.toBeInstanceOf(LockError);
      await expect(waiting).rejects.toThrow(
        `is being written by process ${child.pid} since ${since}: nothing was saved`,
      );
      expect(readFileSync(join(folder, '.cache/lock'), 'utf8')).toBe(lock);
    } finally {
      child.kill();
      await once(child, 'exit');
    }
    // Its process has ended, so the lock is stale and taken over.
    expect(await withLock(folder, async () => 'done', { waitMs: 50 })).toBe('done');
    expect(readdirSync(join(folder, '.cache'))).toEqual([]);
  });

  test('a lock from before the computer was started, and a half-written one, are taken over', async () => {
    const folder = folderWith({
      '.cache/lock': JSON.stringify({
        pid: process.pid,
        host: hostname(),
        since: '2001-01-01T00:00:00Z',
        token: '',
      }),
    });
    expect(await withLock(folder, async () => 1)).toBe(1);
    writeFileSync(join(folder, '.cache/lock'), '{"pid": 12');
    expect(await withLock(folder, async () => 2)).toBe(2);
  });

  test('a lock from another computer is never taken over, and the sentence says how to end it', async () => {
    const lock = JSON.stringify({ pid: 1, host: 'shed', since: '2001-01-01T00:00:00Z', token: '' });
    const folder = folderWith({ '.cache/lock': lock });
    await expect(withLock(folder, async () => 1, { waitMs: 30 })).rejects.toThrow(
      'by process 1 on shed since 2001-01-01T00:00:00Z: nothing was saved; wait until it is done, or end it, and repeat (if that computer is off, delete .cache/lock)',
    );
  });
});
