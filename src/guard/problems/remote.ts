/** The radio remote: a command for every channel, a switch of its own, and only where nobody is in the way. */
import { caution, type PlanProblem, refuse, tidy } from '../../bridge/problem.ts';
import { channelPlans } from '../channels/plan.ts';
import type { GuardPlan } from '../model.ts';

export function remoteProblems(plan: GuardPlan): PlanProblem[] {
  const { remote } = plan;
  if (!remote) return [];
  const problems: PlanProblem[] = channelPlans(plan)
    .filter((c) => c.remote === null)
    .map((c) =>
      refuse(
        `remote.${c.key}`,
        'no command',
        `a command for ${c.key}, too: a channel without one could only stay at zero`,
      ),
    );
  if ([plan.armInput.name, plan.stopInput.name].includes(remote.selected.name))
    problems.push(
      refuse(
        'remote.selected.name',
        `"${remote.selected.name}", which has another use`,
        'a switch of its own',
      ),
    );
  if (remote.selected.active === 'low')
    problems.push(caution('remote.selected.active', 'low: a broken wire selects the remote', 'high'));
  if (remote.speedMaxMps > WALKING_MPS)
    problems.push(
      caution(
        'remote.speed_max_mps',
        `${tidy(remote.speedMaxMps)} m/s, faster than a person walks beside it`,
        `at most ${WALKING_MPS} m/s`,
      ),
    );
  return problems;
}

/** Walking speed; common practice, no source. */
const WALKING_MPS = 2;
