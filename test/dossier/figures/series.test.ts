import { expect, test } from 'vitest';
import { series } from '../../../src/dossier/figures/index.ts';
import { expectPicture } from './picture.ts';
import { angleOverTime, emptyDocument } from './samples.ts';

const document = emptyDocument();

test('a field over time shows its range, its cues and a gap where the message was silent', async () => {
  const figure = series(angleOverTime, { document });
  expect(figure.getAttribute('aria-label')).toBe('steering angle over 14.8 seconds: from −123.9 to 123.7 °');
  const line = figure.querySelector('g[aria-label="line"] path')?.getAttribute('d') ?? '';
  expect(line.split('M')).toHaveLength(3);
  await expectPicture(figure, 'series');
});

test('a field without values is an empty plot that says so', () => {
  const figure = series({ name: 'x', unit: '', time: [], low: [], high: [] }, { document });
  expect(figure.getAttribute('aria-label')).toBe('x over time: no value');
});
