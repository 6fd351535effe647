import { expect, test } from 'vitest';
import { checkTables } from '../../src/guard/budget/margin.ts';
import { proposeTables } from '../../src/guard/budget/propose.ts';
import { fullPlan, sampleHost } from './plan.ts';

const host = sampleHost();

test('a proposal is never above today\u2019s table, unless it may be wider, and then keeps its margin to the budget', () => {
  const plan = fullPlan();
  for (const p of proposeTables(plan, host, { margin: 0.2 })) {
    const today = plan[p.channel]!.level;
    p.level.forEach(([, y], i) => {
      const value = Object.entries(today[i]!).find(([key]) => key !== 'speedMps')![1];
      expect(y).toBeLessThanOrEqual(value + 1e-9);
    });
  }
  const wide = proposeTables(plan, host, { margin: 0.2, wider: 'up to the budget' });
  const checks = checkTables(plan, host).channels;
  for (const p of wide) {
    const rows = checks.find((c) => c.channel === p.channel)!.rows;
    for (const [v, y] of p.level) {
      const row = rows.find((r) => r.speedMps === v);
      if (row) expect(y).toBeLessThanOrEqual(0.8 * row.levelMax + 1e-9);
    }
    for (let i = 1; i < p.level.length; i++) expect(p.level[i]![1]).toBeLessThanOrEqual(p.level[i - 1]![1]);
  }
  expect(wide.find((p) => p.channel === 'steering')!.level.at(-1)![1]).toBeGreaterThan(2);
});

test('a margin that is none is refused', () => {
  expect(() => proposeTables(fullPlan(), host, { margin: 1 })).toThrow(RangeError);
});
