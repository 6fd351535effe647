/** What is wrong or unwise in a guard's figures, before anything is built or proved: place, found, expected. */
import { inGuardFile, type PlanProblem } from '../../bridge/problem.ts';
import type { Host } from '../../car/model.ts';
import type { Dictionary } from '../../dictionary/model.ts';
import type { GuardPlan } from '../model.ts';
import { budgetProblems } from './budget.ts';
import { conditionProblems } from './conditions.ts';
import { handoverProblems } from './handover.ts';
import { remoteProblems } from './remote.ts';
import { tableProblems } from './tables.ts';
import { trackProblems } from './tracks.ts';

/** Every problem of the plan; joins to buses and signals are judged by the bridge (`planProblems`). */
export function guardPlanProblems(plan: GuardPlan, host: Host, dictionaries: Dictionary[]): PlanProblem[] {
  const tables = tableProblems(plan);
  return inGuardFile([
    ...tables,
    ...trackProblems(plan),
    ...remoteProblems(plan),
    ...handoverProblems(plan, dictionaries),
    ...conditionProblems(plan, dictionaries),
    // A budget needs tables that rise in speed and a car that runs straight.
    ...(tables.every((p) => p.weight !== 'refuse') ? budgetProblems(plan, host) : []),
  ]);
}
