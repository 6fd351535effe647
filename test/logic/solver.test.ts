import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { transformWithOxc } from 'vite';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { init } from 'z3-solver';
import { type Engine, openSolver, type Solver, SolverError, solverOn } from '../../src/logic/solver.ts';

let solver: Solver;
beforeAll(async () => {
  solver = await openSolver();
});
afterAll(() => solver.close());

test('a verdict comes with the values asked for', async () => {
  const { verdict, values } = await solver.check(
    '(declare-const x (_ BitVec 8))(declare-const p Bool)(assert (and p (= (bvmul x #x03) #x0f) (bvult x #x10)))',
    { values: ['x', 'p', '(bvadd x #x01)'] },
  );
  expect(verdict).toBe('sat');
  expect([...values]).toEqual([
    ['x', 5n],
    ['p', 1n],
    ['(bvadd x #x01)', 6n],
  ]);
});

test('each query has a context of its own', async () => {
  const first = await solver.check('(declare-const x Bool)(assert x)(assert (not x))', { values: ['x'] });
  expect(first).toEqual({ verdict: 'unsat', values: new Map() });
  expect((await solver.check('(declare-const x Bool)(assert x)')).verdict).toBe('sat');
});

test('queries given together are answered one after the other', async () => {
  const verdicts = await Promise.all(
    [1, 2, 3, 4].map((n) =>
      solver.check(`(declare-const x Bool)(assert ${n % 2 ? 'x' : '(and x (not x))'})`),
    ),
  );
  expect(verdicts.map((v) => v.verdict)).toEqual(['sat', 'unsat', 'sat', 'unsat']);
});

test.each([
  ['text that is no SMT-LIB', '(assert'],
  ['an unknown symbol', '(assert y)'],
  ['a verdict smuggled in', '(echo "unsat")'],
])('%s is an error and no verdict', async (_, text) => {
  await expect(solver.check(text)).rejects.toThrow(SolverError);
});

test('a limit on work gives unknown, the same each time', async () => {
  const hard = `(declare-const a (_ BitVec 64))(declare-const b (_ BitVec 64))
    (assert (= (bvmul a b) #xfedcba9876543211))(assert (bvugt a #x00000000000000ff))(assert (bvugt b #x00000000000000ff))
    (assert (bvult a #x0000000100000000))(assert (bvult b #x0000000100000000))`;
  const verdicts = [];
  for (let i = 0; i < 3; i++) verdicts.push((await solver.check(hard, { rlimit: 20000 })).verdict);
  expect(verdicts).toEqual(['unknown', 'unknown', 'unknown']);
  const controller = new AbortController();
  setTimeout(() => controller.abort(new Error('stopped by hand')), 50);
  await expect(solver.check(hard, { signal: controller.signal })).rejects.toThrow('stopped by hand');
  expect((await solver.check('(assert true)')).verdict).toBe('sat');
});

test('queries keep their verdict while the calling thread writes over its wasm stack', async () => {
  const engine = (await init()) as unknown as Engine;
  const disturbed = solverOn(engine);
  const other = engine.Z3.mk_context(engine.Z3.mk_config());
  const text = Array.from({ length: 40 }, (_, i) => `(declare-const x${i} Bool)(assert x${i})`).join('\n');
  const decoy = `${' '.repeat(text.length)}(assert false)(check-sat)\n`;
  const verdicts = new Map<string, number>();
  for (let run = 0; run < 40; run++) {
    const pending = disturbed.check(text);
    for (let i = 0; i < 60; i++) {
      await null;
      engine.em.ccall('Z3_mk_string_symbol', 'number', ['number', 'string'], [other, decoy]);
    }
    const { verdict } = await pending.catch(() => ({ verdict: 'damaged' }));
    verdicts.set(verdict, (verdicts.get(verdict) ?? 0) + 1);
  }
  await disturbed.close();
  expect([...verdicts]).toEqual([['sat', 40]]);
});

test('a process that has closed its solver ends by itself and prints nothing of its own', async () => {
  const { code } = await transformWithOxc(readFileSync('src/logic/solver.ts', 'utf8'), 'solver.ts');
  const z3 = pathToFileURL(createRequire(import.meta.url).resolve('z3-solver')).href;
  const use = `const solver = await openSolver();
    const { verdict } = await solver.check('(declare-const x Bool)(assert x)');
    await solver.close();
    console.log(verdict);`;
  const folder = mkdtempSync(join(tmpdir(), 'logic-'));
  const script = join(folder, 'solve.mjs');
  writeFileSync(
    script,
    `${code.replace("'z3-solver'", JSON.stringify(z3)).replace('"z3-solver"', JSON.stringify(z3))}\n${use}`,
  );
  const { status, stdout, stderr } = spawnSync(process.execPath, [script], {
    timeout: 30_000,
    encoding: 'utf8',
  });
  rmSync(folder, { recursive: true });
  expect({ status, stdout, stderr }).toEqual({ status: 0, stdout: 'sat\n', stderr: '' });
});
