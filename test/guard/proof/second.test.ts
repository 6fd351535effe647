/** Every verdict on which the demo guard's proof rests, asked again of a solver that shares no code with the first. */
import { spawnSync } from 'node:child_process';
import { resolve } from 'node:path';
import { expect, test } from 'vitest';
import { loadBuild } from '../../../src/build/load.ts';
import { proveGuard } from '../../../src/guard/proof/index.ts';
import { openSolver, type Solver, type SolverAnswer } from '../../../src/logic/solver.ts';

const missing = spawnSync('cvc5', ['--version']).error !== undefined;

test.skipIf(missing && !process.env['CI'])(
  `a second solver gives the verdict of the first on every query of the demo guard's proof${missing ? ' (install the Debian package cvc5)' : ''}`,
  { timeout: 300_000 },
  async () => {
    expect(missing, 'install the Debian package cvc5').toBe(false);
    const { build } = await loadBuild(resolve('demo'));
    const queries: { text: string; verdict: SolverAnswer['verdict'] }[] = [];
    const solver = await openSolver();
    const recording: Solver = {
      async check(text, options) {
        const answer = await solver.check(text, options);
        queries.push({ text, verdict: answer.verdict });
        return answer;
      },
      close: () => solver.close(),
    };
    const report = await proveGuard(
      { guard: build!.guard!, stepMs: build!.bridge!.stepMs },
      { solver: recording },
    );
    expect(new Set(report.obligations.map((o) => o.status))).toEqual(new Set(['proved']));
    expect(queries.length).toBeGreaterThan(5);
    for (const { text, verdict } of queries) expect(secondVerdict(text)).toBe(verdict);
    // Without its last assertion, the negated claim, a query asks only whether the guard can run at all: it can.
    const open = queries[0]!.text.replace(/\(assert [^\n]*\)\s*$/, '');
    expect(open).not.toBe(queries[0]!.text);
    expect((await solver.check(open)).verdict).toBe('sat');
    expect(secondVerdict(open)).toBe('sat');
    await solver.close();
  },
);

function secondVerdict(text: string): string {
  const done = spawnSync('cvc5', ['--lang=smt2', '--quiet', '-'], {
    input: `(set-logic QF_BV)\n${text}\n(check-sat)\n`,
    encoding: 'utf8',
    maxBuffer: 1 << 24,
  });
  return `${done.stdout}${done.stderr}`.trim();
}
