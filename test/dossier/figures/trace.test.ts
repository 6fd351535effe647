import { expect, test } from 'vitest';
import { movingSeries, trace } from '../../../src/dossier/figures/index.ts';
import { expectPicture, textsOf } from './picture.ts';
import { emptyDocument, releaseTooLate } from './samples.ts';

const document = emptyDocument();

test('a trace has one lane per value and marks the step that breaks the obligation', async () => {
  const figure = trace(releaseTooLate, { document });
  expect(textsOf(figure)).toContain('broken at step 9');
  expect(figure.getAttribute('aria-label')).toContain('order_deg 1, since_stop 6');
  await expectPicture(figure, 'trace');
});

test('a window leaves out the steps before it', () => {
  const texts = textsOf(trace(releaseTooLate, { document, from: 6, to: 11 }));
  expect(texts).toContain('11');
  expect(texts).not.toContain('5');
});

test('values that stand still in a window are told apart from those that move', () => {
  const { moving, still } = movingSeries(releaseTooLate.series, 4, 11);
  expect(moving.map(({ name }) => name)).toEqual(['order_deg', 'since_stop']);
  expect(still.map(({ name }) => name)).toEqual(['stop_pressed', 'armed', 'level_deg']);
});
