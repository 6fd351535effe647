import { chmod, mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { proofCacheFolder, rememberingSolver } from '../../src/build/proofCache.ts';
import type { Solver, SolverAnswer } from '../../src/logic/solver.ts';

let folder: string;
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'bywright-proof-cache-'));
});
afterEach(() => rm(folder, { recursive: true, force: true }));

/** Says `unsat` of a text with "impossible" in it and `sat` of any other, and counts. */
function oracle(): Solver & { asked: string[] } {
  const asked: string[] = [];
  return {
    asked,
    check: async (text): Promise<SolverAnswer> => {
      asked.push(text);
      return { verdict: text.includes('impossible') ? 'unsat' : 'sat', values: new Map([['x', 1n]]) };
    },
    close: async () => undefined,
  };
}

function remembering(solver: Solver, version = '1') {
  return rememberingSolver(folder, { open: async () => solver, width: 1, version });
}

test('an unsat verdict is asked for once, and the solver is not even started for it again', async () => {
  const first = remembering(oracle());
  expect((await first.check('impossible', { rlimit: 5 })).verdict).toBe('unsat');
  expect(first).toMatchObject({ remembered: 0, asked: 1 });
  await first.close();
  const second = rememberingSolver(folder, {
    open: () => Promise.reject(new Error('not needed')),
    width: 1,
    version: '1',
  });
  expect(await second.check('impossible', { rlimit: 5 })).toEqual({ verdict: 'unsat', values: new Map() });
  expect(second).toMatchObject({ remembered: 1, asked: 0 });
  await second.close();
});

test('a model is never kept', async () => {
  const solver = oracle();
  for (let i = 0; i < 2; i++) expect((await remembering(solver).check('possible')).values.get('x')).toBe(1n);
  expect(solver.asked).toHaveLength(2);
});

test('another text, another bound on work or another version of the solver is another query', async () => {
  const solver = oracle();
  await remembering(solver).check('impossible', { rlimit: 5 });
  await remembering(solver).check('impossible ', { rlimit: 5 });
  await remembering(solver).check('impossible', { rlimit: 6 });
  await remembering(solver, '2').check('impossible', { rlimit: 5 });
  expect(solver.asked).toHaveLength(4);
});

test('an entry that does not say exactly what its name stands for counts as none and is mended', async () => {
  await remembering(oracle()).check('impossible');
  const [name] = (await readdir(proofCacheFolder(folder))) as [string];
  const path = join(proofCacheFolder(folder), name);
  const whole = await readFile(path, 'utf8');
  for (const text of ['', whole.slice(0, 20), `sat ${name}\n`, whole.replace(/.\n$/, 'x\n'), `${whole}\0`]) {
    await writeFile(path, text);
    const solver = oracle();
    expect((await remembering(solver).check('impossible')).verdict).toBe('unsat');
    expect(solver.asked).toHaveLength(1);
    expect(await readFile(path, 'utf8')).toBe(whole);
  }
});

test('an entry of another query under this name is not believed', async () => {
  await remembering(oracle()).check('impossible');
  const [name] = (await readdir(proofCacheFolder(folder))) as [string];
  const other = oracle();
  await remembering(other).check('impossible too');
  const names = await readdir(proofCacheFolder(folder));
  const second = names.find((n) => n !== name) as string;
  const path = (n: string) => join(proofCacheFolder(folder), n);
  await writeFile(path(second), await readFile(path(name)));
  const solver = oracle();
  await remembering(solver).check('impossible too');
  expect(solver.asked).toHaveLength(1);
});

test('two processes that prove at once keep whole entries', async () => {
  const texts = Array.from({ length: 30 }, (_, i) => `impossible ${i}`);
  const both = [remembering(oracle()), remembering(oracle())];
  await Promise.all(both.flatMap((solver) => texts.map((text) => solver.check(text))));
  const solver = oracle();
  const third = remembering(solver);
  for (const text of texts) await third.check(text);
  expect(solver.asked).toEqual([]);
  const names = await readdir(proofCacheFolder(folder));
  expect(names.filter((name) => !/^[0-9a-f]{64}$/.test(name))).toEqual([]);
});

test.skipIf(process.platform === 'win32' || process.getuid?.() === 0)(
  'where nothing can be written the verdict still counts',
  async () => {
    await chmod(folder, 0o500);
    expect((await remembering(oracle()).check('impossible')).verdict).toBe('unsat');
    await chmod(folder, 0o700);
  },
);
