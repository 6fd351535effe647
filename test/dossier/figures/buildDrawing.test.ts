import { expect, test } from 'vitest';
import { buildDrawing } from '../../../src/dossier/figures/index.ts';
import { expectPicture, textsOf } from './picture.ts';
import { emptyDocument, wagtail } from './samples.ts';

const document = emptyDocument();

test('three buses and twelve units are drawn with the gateway across all three', async () => {
  await expectPicture(buildDrawing(wagtail, { document }), 'build');
});

test('a bus that only passes behind a unit is a hidden line, without a connection', () => {
  const joints = [...buildDrawing(wagtail, { document }).querySelectorAll('g.unit')].slice(-2);
  const connections = joints.map((unit) => unit.querySelectorAll('circle').length);
  const hidden = joints.map((unit) => unit.querySelectorAll('line[stroke-dasharray]').length);
  expect({ connections, hidden }).toEqual({ connections: [2, 3], hidden: [1, 0] });
});

test('no two units cover each other', () => {
  const boxes = [
    ...buildDrawing(wagtail, { document }).querySelectorAll('g.unit rect[fill^="var(--paper"]'),
  ].map(
    (box) =>
      ['x', 'y', 'width', 'height'].map((key) => Number(box.getAttribute(key))) as [
        number,
        number,
        number,
        number,
      ],
  );
  expect(boxes.length).toBe(11);
  for (const [i, [ax, ay, aw, ah]] of boxes.entries()) {
    for (const [bx, by, bw, bh] of boxes.slice(i + 1)) {
      expect(ax + aw <= bx || bx + bw <= ax || ay + ah <= by || by + bh <= ay).toBe(true);
    }
  }
});

test('a bus without units and a unit on an unknown bus do no harm', () => {
  const drawing = buildDrawing(
    {
      title: 'empty',
      buses: [{ name: 'van', bitRateBps: 500_000 }],
      units: [{ name: 'lost', role: 'donor', part: 'brake unit', buses: ['nowhere'] }],
    },
    { document },
  );
  expect(textsOf(drawing)).toEqual(['van', '500 kbit/s']);
  expect(drawing.getAttribute('aria-label')).toBe('Units and buses of empty: bus van with no unit');
});
