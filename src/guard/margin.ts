/** The guard's tables held against the budget: at every speed, also between the points of the tables. */
import type { Host } from '../car/model.ts';
import { type Budget, budgetAt } from './budget.ts';
import type { GuardPlan } from './model.ts';

export interface MarginRow extends Budget {
  /** What the guard's tables allow at this speed, degrees and degrees per second at the steering wheel. */
  tableLevelDeg: number;
  tableSlewDegPerS: number;
  /** Share of the budget that the tables leave unused, of whichever is closer; negative: over the budget. */
  margin: number;
}

export interface TableCheck {
  rows: MarginRow[];
  /** Least margin found, and where. */
  leastMargin: number;
  leastAtMps: number;
  /** Lowest speed at which a table leaves the budget, m/s; null where none does up to the highest speed. */
  levelOverFromMps: number | null;
  slewOverFromMps: number | null;
}

/** Spacing of the speeds that are looked at, m/s. */
const SPACING_MPS = 0.25;

/** Compares both tables with the budget from standstill to `budget.speed_max_mps`. Throws as `budgetAt`. */
export function checkTables(plan: GuardPlan, host: Host): TableCheck {
  const { level, slew } = plan.steering;
  const rows = speeds(plan).map((speedMps): MarginRow => {
    const budget = budgetAt(host, plan.budget, speedMps);
    const tableLevelDeg = tableAt(
      level.map((p) => [p.speedMps, p.angleDeg]),
      speedMps,
    );
    const tableSlewDegPerS = tableAt(
      slew.map((p) => [p.speedMps, p.rateDegPerS]),
      speedMps,
    );
    const used = Math.max(tableLevelDeg / budget.levelDeg, tableSlewDegPerS / budget.slewDegPerS);
    return { ...budget, tableLevelDeg, tableSlewDegPerS, margin: 1 - used };
  });
  const least = rows.reduce((a, b) => (b.margin < a.margin ? b : a));
  return {
    rows,
    leastMargin: least.margin,
    leastAtMps: least.speedMps,
    levelOverFromMps: rows.find((r) => r.tableLevelDeg > r.levelDeg)?.speedMps ?? null,
    slewOverFromMps: rows.find((r) => r.tableSlewDegPerS > r.slewDegPerS)?.speedMps ?? null,
  };
}

/** The form `budget/1`. */
export function toBudgetForm(check: TableCheck) {
  return {
    form: 'budget/1' as const,
    rows: check.rows.map((r) => ({
      speedMps: r.speedMps,
      levelMaxDeg: r.levelDeg,
      slewMaxDegPerS: r.slewDegPerS,
      levelDeg: r.tableLevelDeg,
      slewDegPerS: r.tableSlewDegPerS,
      margin: r.margin,
    })),
  };
}

/** The even grid, every point of the tables, and the end: between two points a table is straight and the budget convex. */
function speeds(plan: GuardPlan): number[] {
  const end = plan.budget.speedMaxMps;
  const points = [...plan.steering.level, ...plan.steering.slew].map((p) => p.speedMps);
  const grid = Array.from({ length: Math.floor(end / SPACING_MPS) + 1 }, (_, i) => i * SPACING_MPS);
  const all = [...grid, ...points.filter((v) => v <= end), end];
  return [...new Set(all)].sort((a, b) => a - b);
}

/** Linear between points, held before the first and after the last. */
export function tableAt(points: readonly (readonly [number, number])[], x: number): number {
  const after = points.findIndex((p) => p[0] > x);
  if (after === 0) return points[0]![1];
  if (after < 0) return points[points.length - 1]![1];
  const [x0, y0] = points[after - 1]!;
  const [x1, y1] = points[after]!;
  return y0 + ((x - x0) / (x1 - x0)) * (y1 - y0);
}
