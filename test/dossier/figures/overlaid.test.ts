import { expect, test } from 'vitest';
import { overlaid } from '../../../src/dossier/figures/index.ts';
import { expectPicture } from './picture.ts';
import { emptyDocument } from './samples.ts';

const document = emptyDocument();
const time = Array.from({ length: 120 }, (_, i) => i / 2);
const speed = (t: number) => 40 + 20 * Math.sin(t / 6);

test('a reference over a signal shows both, and a gap as a gap', async () => {
  const figure = overlaid(
    {
      unit: 'km/h',
      reference: {
        name: 'satellite speed',
        time,
        value: time.map((t) => (t > 20 && t < 25 ? null : speed(t))),
      },
      signal: { name: 'chassis wheels speed', time, value: time.map((t) => speed(t) + Math.sin(t * 9)) },
    },
    { document },
  );
  expect(figure.getAttribute('aria-label')).toBe(
    'satellite speed laid over chassis wheels speed, from 0 to 59.5 seconds of the capture: from 20.01 to 60 km/h',
  );
  const paths = [...figure.querySelectorAll('g[aria-label="line"] path')].map(
    (p) => p.getAttribute('d') ?? '',
  );
  expect(paths.map((d) => d.split('M').length - 1)).toEqual([2, 1]);
  await expectPicture(figure, 'overlaid');
});

test('a reference without values says so', () => {
  const none = { name: 'x', time: [], value: [] };
  const figure = overlaid({ unit: '', reference: none, signal: { ...none, name: 'y' } }, { document });
  expect(figure.getAttribute('aria-label')).toBe('x over y: no value');
});
