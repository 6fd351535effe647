import { expect, test } from 'vitest';
import type { BudgetForm } from '../../src/server/api.ts';
import { marginWords } from '../../web/limits.ts';

const row = { levelMax: 10, slewMax: 10, level: 8, slew: 8 };
const budget = (...margins: [speedMps: number, margin: number][]): BudgetForm['channels'][number] => ({
  channel: 'steering',
  quantity: 'angle of the steering wheel',
  unit: '°',
  rateUnit: '°/s',
  rows: margins.map(([speedMps, margin]) => ({ ...row, speedMps, margin })),
});

test('the closest speed is told with what is left of the budget', () => {
  expect(marginWords(budget([0, 0.8], [10, 0.123], [20, 0.5]))).toBe(
    'At 36 km/h the tables leave 12.3 % of the budget unused; nowhere less.',
  );
});

test('a table over the budget is told as such', () => {
  expect(marginWords(budget([0, 0.8], [15, -0.25]))).toBe(
    'At 54 km/h a table is 25 % over the budget; nowhere more.',
  );
});
