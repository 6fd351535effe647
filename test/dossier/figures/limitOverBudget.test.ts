import { expect, test } from 'vitest';
import { limitCrossings, limitOverBudget } from '../../../src/dossier/figures/index.ts';
import { expectPicture, textsOf } from './picture.ts';
import { emptyDocument, levelUnderBudget, slewOverBudget } from './samples.ts';

const document = emptyDocument();

test('a level limit under the budget shows its points and no crossing', async () => {
  const figure = limitOverBudget(levelUnderBudget, { document });
  expect(figure.getAttribute('aria-label')).toBe(
    'Level limit over speed against the budget: under the budget at every speed shown',
  );
  await expectPicture(figure, 'limit-level');
});

test('a slew limit over the budget names the speeds at which it crosses', async () => {
  const figure = limitOverBudget(slewOverBudget, { document });
  expect(textsOf(figure)).toContain('over the budget');
  expect(figure.getAttribute('aria-label')).toMatch(
    /over the budget at [\d.]+ km\/h, under the budget again at [\d.]+ km\/h$/,
  );
  await expectPicture(figure, 'limit-slew');
});

test('a crossing lies where straight lines between the rows meet', () => {
  const rows = [
    { speedMps: 0, budget: 10, limit: 4 },
    { speedMps: 10, budget: 2, limit: 4 },
    { speedMps: 20, budget: 8, limit: 4 },
  ];
  expect(limitCrossings(rows)).toEqual([7.5, 10 + 10 / 3]);
});

test('a limit over the budget everywhere is said in words, not passed over for want of a crossing', () => {
  const figure = limitOverBudget(
    {
      quantity: 'level',
      unit: '°',
      rows: [0, 10].map((speedMps) => ({ speedMps, budget: 5, limit: 8 })),
      points: [],
    },
    { document },
  );
  expect(figure.getAttribute('aria-label')).toContain('over the budget everywhere shown');
});
