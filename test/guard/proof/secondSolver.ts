/** A solver that shares no code with the first: cvc5, as a process of its own. */
import { spawn, spawnSync } from 'node:child_process';
import { resolve } from 'node:path';
import { stepOf } from '../../../src/build/gatewayOf.ts';
import { loadBuild } from '../../../src/build/load.ts';
import { type ProofReport, proveGuard } from '../../../src/guard/proof/index.ts';
import type { Solver, SolverAnswer } from '../../../src/logic/solver.ts';
import { openSolvers } from '../../../src/logic/solverPool.ts';

export const noSecondSolver = spawnSync('cvc5', ['--version']).error !== undefined;

export interface Query {
  text: string;
  verdict: SolverAnswer['verdict'];
}

/** The proof of the demo's guard, with everything that it asked and was told. */
export async function demoQueries(): Promise<{ report: ProofReport; queries: Query[] }> {
  const { build } = await loadBuild(resolve('demo'));
  const queries: Query[] = [];
  const solver = await openSolvers(2);
  const recording: Solver = {
    width: 2,
    async check(text, options) {
      const answer = await solver.check(text, options);
      queries.push({ text, verdict: answer.verdict });
      return answer;
    },
    close: () => solver.close(),
  };
  const report = await proveGuard({ guard: build!.guard!, stepMs: stepOf(build!) }, { solver: recording });
  await solver.close();
  return { report, queries };
}

/** What the second solver says: a verdict, `unknown` where its bound on work ended it, or whatever it printed. */
export function secondVerdict(text: string, rlimit?: number): Promise<string> {
  const bound = rlimit === undefined ? [] : [`--rlimit=${rlimit}`];
  const solver = spawn('cvc5', ['--lang=smt2', '--quiet', '--bv-sat-solver=cadical', ...bound, '-']);
  let said = '';
  solver.stdout.on('data', (piece) => {
    said += piece;
  });
  solver.stderr.on('data', (piece) => {
    said += piece;
  });
  solver.stdin.end(`(set-logic QF_BV)\n${text}\n(check-sat)\n`);
  return new Promise((done, fail) => {
    solver.on('error', fail);
    solver.on('close', () => done(said.trim().split('\n')[0] ?? ''));
  });
}
