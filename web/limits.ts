/** The guard's tables and the budget in the form that figures and sentences need. */
import type { LimitOverBudgetData } from '../src/dossier/figures/index.ts';
import { channelPlans } from '../src/guard/channels/plan.ts';
import type { GuardPlan } from '../src/guard/model.ts';
import type { BudgetForm } from '../src/server/api.ts';
import { figure } from './words.ts';

type ChannelBudget = BudgetForm['channels'][number];

/** Level and slew of one channel, to be drawn. */
export function limitsOf(plan: GuardPlan, budget: ChannelBudget): LimitOverBudgetData[] {
  const channel = channelPlans(plan).find((c) => c.key === budget.channel);
  return (['level', 'slew'] as const).map((quantity) => ({
    quantity,
    unit: quantity === 'level' ? budget.unit : budget.rateUnit,
    rows: budget.rows.map((row) => ({
      speedMps: row.speedMps,
      budget: quantity === 'level' ? row.levelMax : row.slewMax,
      limit: row[quantity],
    })),
    points: (channel?.[quantity] ?? []).map(([speedMps, value]) => ({ speedMps, value })),
  }));
}

/** "At 54 km/h the tables leave 12 % of the budget unused; nowhere less." */
export function marginWords({ rows }: ChannelBudget): string {
  const closest = rows.reduce<ChannelBudget['rows'][number] | null>(
    (a, b) => (a && a.margin <= b.margin ? a : b),
    null,
  );
  if (closest === null) return 'No speed was computed.';
  const at = `At ${figure(Math.round(closest.speedMps * 36) / 10)} km/h`;
  const percent = figure(Math.abs(Math.round(closest.margin * 1000) / 10));
  return closest.margin < 0
    ? `${at} a table is ${percent} % over the budget; nowhere more.`
    : `${at} the tables leave ${percent} % of the budget unused; nowhere less.`;
}
