import { expect, test } from 'vitest';
import type { Dictionary, Message } from '../../src/dictionary/model.ts';
import type { FindingsMessageReply } from '../../src/server/api.ts';
import { type Field, fieldsOf, labelOf, stripFields } from '../../web/fields.ts';

const found = {
  byteOrder: 'little',
  signed: false,
  scale: 1,
  offset: 0,
  unit: '',
  selectorValue: null,
  evidence: [],
  state: 'open',
} as const;

const message: FindingsMessageReply = {
  bus: 1,
  busName: 'column',
  id: '1A2',
  ext: 0,
  length: 8,
  frames: 100,
  periodMs: 10,
  jitterMs: 0,
  timing: 'periodic',
  missing: 0,
  sender: { group: 1, size: 1, probability: 1, reason: null },
  name: null,
  flipRate: new Array(64).fill(0),
  signals: [
    { ...found, start: 16, length: 12, kind: 'number', probability: 0.95, evidence: [] },
    { ...found, start: 40, length: 8, kind: 'constant', probability: 0.99, evidence: [] },
    {
      ...found,
      start: 7,
      length: 12,
      byteOrder: 'big',
      kind: 'number',
      probability: 0.98,
      evidence: [],
      state: 'accepted',
    },
    { ...found, start: 48, length: 1, kind: 'flag', probability: 0.5, evidence: [], state: 'rejected' },
  ],
  counter: {
    start: 32,
    length: 4,
    byteOrder: 'little',
    step: 1,
    skip: [],
    probability: 1,
    evidence: [],
    state: 'open',
  },
  check: null,
  selector: null,
  open: [],
};

const signal: Message['signals'][number] = {
  name: 'steering angle',
  start: 7,
  length: 12,
  byteOrder: 'big',
  signed: true,
  scale: 0.1,
  offset: 0,
  unit: '°',
  state: 'accepted',
};

const dictionary: Dictionary = {
  form: 'dictionary/1',
  bus: 'column',
  messages: [
    {
      name: 'column angle',
      id: 0x1a2,
      extended: false,
      length: 8,
      periodMs: 10,
      signals: [
        signal,
        { ...signal, name: 'written by hand', start: 56, length: 4, byteOrder: 'little', signed: false },
      ],
    },
  ],
};

const fields = fieldsOf(message, dictionary);

test('fields stand in the order of the strip and carry its marks', () => {
  expect(fields.map(({ mark, start }) => [mark, start])).toEqual([
    ['a', 7],
    ['b', 16],
    ['c', 32],
    ['d', 40],
    ['e', 48],
    ['f', 56],
  ]);
});

test('an accepted field shows the name, scale and sign of the dictionary, not of the finding', () => {
  const [angle] = fields as [Field];
  expect(labelOf(angle)).toBe('steering angle, °');
  expect(angle).toMatchObject({ scale: 0.1, signed: true, rule: '× 0.1 °', state: 'accepted' });
});

test('a signal that stands in the dictionary alone is shown too, and cannot be accepted again', () => {
  expect(fields.at(-1)).toMatchObject({ name: 'written by hand', key: null, kind: '', probability: null });
});

test('what never changes is undecided, what is rejected has no bracket', () => {
  expect(stripFields(fields).map(({ key, standing }) => [key, standing])).toEqual([
    ['a', 'accepted'],
    ['b', 'found'],
    ['c', 'found'],
    ['d', 'undecided'],
    ['f', 'accepted'],
  ]);
});

test('a message of another identifier length is another message', () => {
  expect(fieldsOf({ ...message, ext: 1 }, dictionary).some(({ name }) => name !== '')).toBe(false);
});
