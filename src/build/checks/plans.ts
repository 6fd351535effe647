/** Bridge and guard against buses and dictionaries, as their own rooms see it. */
import type { GatewayParts } from '../../bridge/plan.ts';
import { inGuardFile, type PlanProblem, refuse } from '../../bridge/problem.ts';
import { planProblems } from '../../bridge/problems.ts';
import { bindGuard } from '../../guard/binding.ts';
import { guardPlanProblems } from '../../guard/problems/index.ts';
import { LogicError } from '../../logic/error.ts';
import { stepOf } from '../gatewayOf.ts';
import type { Sources } from '../load.ts';
import type { Build, Problem } from '../model.ts';
import type { Check } from './index.ts';
import { problemAt } from './place.ts';

export const plansCheck: Check = (build, sources) => {
  const { buses, dictionaries, bridge, guard } = build;
  const parts: GatewayParts = {
    name: build.file.title,
    stepMs: stepOf(build),
    buses,
    dictionaries,
    bridge,
    guards: [],
  };
  const problems: Problem[] = [];
  const found: PlanProblem[] = [];
  if (guard !== null) {
    found.push(...guardPlanProblems(guard, build.file.host, dictionaries));
    try {
      const binding = bindGuard(guard, dictionaries, parts.stepMs);
      parts.guards.push(binding.stage);
      found.push(...binding.problems);
    } catch (error) {
      if (!(error instanceof LogicError)) throw error;
      // Figures that cannot be computed are told by their own room first, field by field.
      if (found.every((p) => p.weight === 'caution'))
        problems.push(
          problemAt(sources, 'guard.yaml', 'form', error.message, 'figures that can be computed'),
        );
    }
  }
  if (guard?.remote && !REMOTE_STAGES.includes(build.file.stage))
    found.push(
      ...inGuardFile([
        refuse(
          'remote',
          `a radio remote, while build.yaml says stage ${build.file.stage}`,
          `no remote at this stage; it belongs to the ${REMOTE_STAGES.join(' and the ')}`,
        ),
      ]),
    );
  found.push(...planProblems(parts));
  for (const p of found) {
    if (blamesBroken(build, sources, p.found)) continue;
    const placed = problemAt(sources, p.file, p.path, p.found, p.expected);
    problems.push(p.weight === 'caution' ? { ...placed, weight: 'caution' } : placed);
  }
  return problems;
};

/** Stages at which a radio remote may move the parts. */
const REMOTE_STAGES: readonly string[] = ['bench', 'stand'];

/** A dictionary that is there, broken or under the name of another bus, is told once, not again by all who refer to it. */
function blamesBroken(build: Build, sources: Sources, found: string): boolean {
  return build.buses.some(
    ({ name }) =>
      (sources.broken.has(`dictionary/${name}.yaml`) || sources.parsed.has(`dictionary/${name}.yaml`)) &&
      found === `bus "${name}" has no dictionary`,
  );
}
