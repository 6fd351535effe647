/**
 * The proof of a build's guard in figures: obligations, verdicts and times, how much of it the simulation sees, and how
 * many of the guard's small changes (mutants) the obligations catch. Times are of the processor, so that a busy machine
 * does not bend them. Run: node dist/bench/guard.js [BUILD] [MUTANTS] [SEED]; default: the demo build, 150, 1; 0: none.
 */
import { join } from 'node:path';
import { stepOf } from '../src/build/gatewayOf.ts';
import { loadBuild } from '../src/build/load.ts';
import { packageRoot } from '../src/build/packageRoot.ts';
import { guardFigures } from '../src/guard/figures.ts';
import { guardProgram } from '../src/guard/program/guard.ts';
import { proveGuard, subjectOf } from '../src/guard/proof/prove.ts';
import { strengthOf } from '../src/guard/proof/strength.ts';
import { openSolver } from '../src/logic/solver.ts';

const [folder = join(packageRoot(), 'demo'), count = '150', seedText = '1'] = process.argv.slice(2);
const seed = Number(seedText);
const { build } = await loadBuild(folder);
if (!build?.guard) {
  console.error(`${folder}: no build with a guard.yaml that can be read`);
  process.exit(2);
}
const plan = build.guard;
const stepMs = stepOf(build);
const processorMs = () => process.cpuUsage().user / 1000;

const solver = await openSolver();
const begun = { processor: processorMs(), wall: performance.now() };
const report = await proveGuard({ guard: plan, stepMs }, { solver, now: processorMs, seed });
const guard = guardProgram(guardFigures(plan, stepMs));
console.log(
  `seed ${seed}; guard of ${guard.nodes.length} nodes, ${guard.states.length} states, ${guard.inputs.length} inputs; ` +
    `${report.statements.length} helping statements, ${report.simulatedSteps} simulated steps`,
);
for (const o of report.obligations)
  console.log(
    `${o.status.padEnd(8)} ${o.seconds.toFixed(2).padStart(6)} s  ${o.name}${o.note && `: ${o.note}`}`,
  );
const verdicts = new Map<string, number>();
for (const { status } of report.obligations) verdicts.set(status, (verdicts.get(status) ?? 0) + 1);
console.log(
  `${report.obligations.length} obligations: ${[...verdicts].map(([s, n]) => `${n} ${s}`).join(', ')}; ` +
    `${((processorMs() - begun.processor) / 1000).toFixed(1)} s of processor, ` +
    `${((performance.now() - begun.wall) / 1000).toFixed(1)} s by the clock`,
);

const tally = new Map<string, number>();
const judging = processorMs();
const score = await strengthOf(subjectOf({ guard: plan, stepMs }), {
  solver,
  seed,
  mutants: Number(count),
  onJudged: (mutant, verdict) => {
    const kind = verdict.kind === 'refuted' ? `refuted by ${verdict.how}` : verdict.kind;
    tally.set(kind, (tally.get(kind) ?? 0) + 1);
    if (verdict.kind === 'survived') console.log(`survived: ${mutant.name}`);
    if (verdict.kind === 'notProved')
      console.log(
        `not proved any more, no run found: ${mutant.name} (${verdict.claims.slice(0, 4).join(', ')})`,
      );
  },
});
console.log(
  `${score.mutants} mutants that are programs (seed ${seed}): ${score.refuted} refuted, ${score.equivalent} shown equivalent, ` +
    `${score.undecided} undecided; ${((processorMs() - judging) / 1000).toFixed(1)} s of processor. ` +
    `In all drawn: ${[...tally].map(([kind, n]) => `${n} ${kind}`).join(', ')}`,
);
await solver.close();
process.exit();
