import { expect, test } from 'vitest';
import {
  type RelationBranch,
  type RelationDrawingData,
  relationDrawing,
} from '../../../src/dossier/figures/index.ts';
import { expectPicture, textsOf } from './picture.ts';
import { emptyDocument } from './samples.ts';

const document = emptyDocument();

const plate = (key: string, title: string, isAccepted = false) => ({
  key,
  title,
  place: `1A${key}, bit 8, 12 long`,
  isAccepted,
});
const branch = (key: string, title: string, more: Partial<RelationBranch>): RelationBranch => ({
  plate: plate(key, title),
  words: 'copy × 0.5',
  figures: '12 ms later, p 0.97',
  note: '',
  line: 'double',
  towards: 'plate',
  ...more,
});

const column: RelationDrawingData = {
  centre: plate('0', 'column angle', true),
  left: [
    branch('1', 'yaw rate', {
      words: 'product',
      note: 'with a signal whose name is longer than its plate',
      line: 'single',
      towards: 'centre',
    }),
  ],
  right: [
    branch('2', 'steering angle', {}),
    branch('3', 'column rate', { words: 'rate of change', line: 'dashed' }),
    branch('4', 'wheel angle', { words: 'moves alike', line: 'single', towards: 'neither' }),
  ],
};

test('a signal stands between what it is made of and what follows it', async () => {
  await expectPicture(relationDrawing(column, { document }), 'relations');
});

test('everything in the drawing is in its name', () => {
  expect(relationDrawing(column, { document }).getAttribute('aria-label')).toMatch(
    /^column angle: before it yaw rate \(product, with .*\)\. after it steering angle \(copy × 0\.5, 12 ms later, p 0\.97\); column rate/,
  );
});

test('plates are buttons only for a page that walks', () => {
  const still = relationDrawing(column, { document });
  const walk = relationDrawing(column, { document, plates: 'walk' });
  expect(still.querySelectorAll('[role="button"]')).toHaveLength(0);
  expect([...walk.querySelectorAll('[role="button"]')].map((p) => p.getAttribute('data-signal'))).toEqual([
    '1',
    '2',
    '3',
    '4',
    '0',
  ]);
  expect(walk.getAttribute('role')).toBe('group');
});

test('text that is longer than its plate ends in an ellipsis', () => {
  expect(textsOf(relationDrawing(column, { document })).find((text) => text.startsWith('with'))).toMatch(
    /…$/,
  );
});

test('a signal that is tied to nothing stands alone', () => {
  const alone = relationDrawing({ centre: plate('0', 'x'), left: [], right: [] }, { document });
  expect(alone.querySelectorAll('g.plate')).toHaveLength(1);
  expect(alone.getAttribute('aria-label')).toBe('x: tied to nothing');
});
