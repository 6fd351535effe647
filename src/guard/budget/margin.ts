/** The guard's tables held against the budget: at every speed, also between the points of the tables. */
import type { Host } from '../../car/model.ts';
import { type ChannelKey, type ChannelPlan, channelPlans } from '../channels/plan.ts';
import type { GuardPlan } from '../model.ts';
import { type ChannelBudget, channelBudgets } from './channel.ts';
import { tableAt } from './interpolate.ts';

export interface MarginRow {
  speedMps: number;
  /** Budget, in the channel's unit and per second. */
  levelMax: number;
  slewMax: number;
  /** What the guard's tables allow at this speed. */
  level: number;
  slew: number;
  /** Share of the budget that the tables leave unused, of whichever is closer; negative: over the budget. */
  margin: number;
}

export interface ChannelCheck {
  channel: ChannelKey;
  quantity: string;
  unit: string;
  rateUnit: string;
  rows: MarginRow[];
  /** Least margin found, and where. */
  leastMargin: number;
  leastAtMps: number;
  /** Lowest speed at which a table leaves the budget, m/s; null where none does up to the highest speed. */
  levelOverFromMps: number | null;
  slewOverFromMps: number | null;
}

export interface TableCheck {
  channels: ChannelCheck[];
  /** Channels without a budget, and why. */
  missing: { channel: ChannelKey; why: string }[];
}

/** Spacing of the speeds that are looked at, m/s. */
const SPACING_MPS = 0.25;

/** Compares every table with its budget from standstill to `budget.speed_max_mps`. Throws as `steeringBudgetAt`. */
export function checkTables(plan: GuardPlan, host: Host): TableCheck {
  const budgets = channelBudgets(plan, host);
  const check: TableCheck = { channels: [], missing: [] };
  for (const channel of channelPlans(plan)) {
    const budget = budgets.get(channel.key) as ChannelBudget;
    if ('missing' in budget) check.missing.push({ channel: channel.key, why: budget.missing });
    else check.channels.push(checkChannel(channel, budget.at, plan.budget.speedMaxMps));
  }
  return check;
}

function checkChannel(
  c: ChannelPlan,
  budgetAt: (speedMps: number) => { level: number; slew: number },
  end: number,
): ChannelCheck {
  const rows = speeds(c, end).map((speedMps): MarginRow => {
    const most = budgetAt(speedMps);
    const level = tableAt(c.level, speedMps);
    const slew = tableAt(c.slew, speedMps);
    const used = Math.max(share(level, most.level), share(slew, most.slew));
    return { speedMps, levelMax: most.level, slewMax: most.slew, level, slew, margin: 1 - used };
  });
  const least = rows.reduce((a, b) => (b.margin < a.margin ? b : a));
  return {
    channel: c.key,
    quantity: c.quantity,
    unit: c.unit,
    rateUnit: c.rateUnit,
    rows,
    leastMargin: least.margin,
    leastAtMps: least.speedMps,
    levelOverFromMps: rows.find((r) => r.level > r.levelMax)?.speedMps ?? null,
    slewOverFromMps: rows.find((r) => r.slew > r.slewMax)?.speedMps ?? null,
  };
}

/** A budget of nothing is kept by a table of nothing, and by no other. */
function share(value: number, most: number): number {
  if (most > 0) return value / most;
  return value === 0 ? 0 : Number.POSITIVE_INFINITY;
}

/** The form `budget/1`. */
export function toBudgetForm(check: TableCheck) {
  return {
    form: 'budget/1' as const,
    channels: check.channels.map(({ channel, quantity, unit, rateUnit, rows }) => ({
      channel,
      quantity,
      unit,
      rateUnit,
      rows,
    })),
    missing: check.missing,
  };
}

/** The even grid, every point of the tables, and the end: between two points a table is straight and the budget convex. */
function speeds(c: ChannelPlan, end: number): number[] {
  const points = [...c.level, ...c.slew].map(([v]) => v);
  const grid = Array.from({ length: Math.floor(end / SPACING_MPS) + 1 }, (_, i) => i * SPACING_MPS);
  const all = [...grid, ...points.filter((v) => v <= end), end];
  return [...new Set(all)].sort((a, b) => a - b);
}
