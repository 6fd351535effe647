/** The guard's tables and the budget in the form that figures and sentences need. */
import type { LimitOverBudgetData } from '../src/dossier/figures/index.ts';
import type { GuardPlan } from '../src/guard/model.ts';
import type { BudgetForm } from '../src/server/api.ts';
import { figure } from './words.ts';

export function limitsOf({ steering }: GuardPlan, { rows }: BudgetForm): LimitOverBudgetData[] {
  return [
    {
      quantity: 'level',
      rows: rows.map((row) => ({ speedMps: row.speedMps, budget: row.levelMaxDeg, limit: row.levelDeg })),
      points: steering.level.map((point) => ({ speedMps: point.speedMps, value: point.angleDeg })),
    },
    {
      quantity: 'slew',
      rows: rows.map((row) => ({
        speedMps: row.speedMps,
        budget: row.slewMaxDegPerS,
        limit: row.slewDegPerS,
      })),
      points: steering.slew.map((point) => ({ speedMps: point.speedMps, value: point.rateDegPerS })),
    },
  ];
}

/** "At 54 km/h the tables leave 12 % of the budget unused; nowhere less." */
export function marginWords({ rows }: BudgetForm): string {
  const closest = rows.reduce<BudgetForm['rows'][number] | null>(
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
