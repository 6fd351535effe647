import { expect, test } from 'vitest';
import { periodMark, periodScale } from '../../../src/dossier/figures/index.ts';
import { expectPicture, textsOf } from './picture.ts';
import { emptyDocument } from './samples.ts';

const document = emptyDocument();

test('a period mark stands at its period and is as wide as the jitter', async () => {
  const mark = periodMark({ name: '1A2', periodMs: 100, jitterMs: 30 }, { document });
  expect(mark.getAttribute('aria-label')).toBe('1A2: every 100 ms, jitter 30 ms');
  await expectPicture(mark, 'period-mark');
});

test('ten times the period is a quarter of the scale further, and the ends of the scale hold what lies beyond', () => {
  const lefts = [10, 100, 1e6].map((periodMs) =>
    Number(
      periodMark({ name: 'x', periodMs, jitterMs: 0 }, { document }).querySelector('rect')?.getAttribute('x'),
    ),
  );
  expect(lefts).toEqual([45.5, 89.5, 177.5]);
});

test('a message without a period has no mark and says so', () => {
  const mark = periodMark({ name: 'x', periodMs: null, jitterMs: null }, { document });
  expect(mark.querySelector('rect')).toBeNull();
  expect(mark.getAttribute('aria-label')).toBe('x: no period');
});

test('the scale names its tens', () => {
  expect(textsOf(periodScale({ document }))).toEqual(['1 ms', '10', '100', '1 s', '10 s']);
});
