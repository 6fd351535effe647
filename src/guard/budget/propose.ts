/** A table that keeps a margin to the budget, for a person to take or leave: the tool never changes one by itself. */
import type { Host } from '../../car/model.ts';
import { type ChannelPlan, channelPlans, type PlanPoints } from '../channels/plan.ts';
import type { GuardPlan } from '../model.ts';
import { type ChannelBudget, channelBudgets } from './channel.ts';

export interface Proposal {
  channel: ChannelPlan['key'];
  unit: string;
  rateUnit: string;
  level: PlanPoints;
  slew: PlanPoints;
}

/**
 * For each channel with a budget, today's speeds with the budget less `margin` (0 … 1), rounded down to three figures; and
 * never more than today's table, unless `wider` says that today's may be exceeded. Between its points a proposal stays
 * under the budget where the budget is convex over speed, as those of steering are; `checkTables` says so of any.
 */
export function proposeTables(
  plan: GuardPlan,
  host: Host,
  options: { margin: number; wider?: 'never' | 'up to the budget' },
): Proposal[] {
  const { margin, wider = 'never' } = options;
  if (!(margin >= 0 && margin < 1)) throw new RangeError(`a margin of ${margin} is none; 0 … less than 1 is`);
  const budgets = channelBudgets(plan, host);
  return channelPlans(plan).flatMap((c): Proposal[] => {
    const budget = budgets.get(c.key) as ChannelBudget;
    if ('missing' in budget) return [];
    const points = (today: PlanPoints, of: 'level' | 'slew'): PlanPoints =>
      falling(
        today.map(([v, y]): [number, number] => {
          const most = Math.min(c.reach * (of === 'slew' ? SLEW_REACH : 1), budget.at(v)[of] * (1 - margin));
          return [v, threeFigures(wider === 'never' ? Math.min(y, most) : most)];
        }),
      );
    return [
      {
        channel: c.key,
        unit: c.unit,
        rateUnit: c.rateUnit,
        level: points(c.level, 'level'),
        slew: points(c.slew, 'slew'),
      },
    ];
  });
}

/** A table of slew never needs to cross the whole reach in less than half a second. */
const SLEW_REACH = 2;

/** Authority that rises again with speed is more than a falling budget asked for at the lower speed, and hard to explain. */
function falling(points: PlanPoints): PlanPoints {
  let least = Number.POSITIVE_INFINITY;
  return points.map(([v, y]) => {
    least = Math.min(least, y);
    return [v, least];
  });
}

function threeFigures(value: number): number {
  if (value <= 0) return 0;
  const unit = 10 ** (Math.floor(Math.log10(value)) - 2);
  return Number((Math.floor(value / unit + 1e-9) * unit).toPrecision(3));
}
