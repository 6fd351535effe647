/** How sharp the obligations of the demo's guard are: every small change of it breaks one or changes nothing. */
import { expect, test } from 'vitest';
import { stepOf } from '../../src/build/gatewayOf.ts';
import { loadBuild } from '../../src/build/load.ts';
import { strengthOf, subjectOf } from '../../src/guard/proof/index.ts';
import { openSolvers } from '../../src/logic/solverPool.ts';

const SEED = 1;
const MUTANTS = 150;

test(`of ${MUTANTS} changed guards of seed ${SEED} none is left undecided`, {
  timeout: 3_600_000,
}, async () => {
  const { build } = await loadBuild('demo');
  const solver = await openSolvers(2);
  const left: string[] = [];
  const score = await strengthOf(subjectOf({ guard: build!.guard!, stepMs: stepOf(build!) }), {
    solver,
    mutants: MUTANTS,
    seed: SEED,
    onJudged: (mutant, { kind }) => {
      if (kind === 'notProved' || kind === 'survived') left.push(`${mutant.name}: ${kind}`);
    },
  });
  await solver.close();
  expect(left).toEqual([]);
  expect(score).toMatchObject({ mutants: MUTANTS, undecided: 0 });
});
