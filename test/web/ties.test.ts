import { expect, test } from 'vitest';
import type { FindingsMessageReply, RelationsReply, TiedSignal } from '../../src/server/api.ts';
import { listed, undecided } from '../../web/messageList.ts';
import { laneOfText, laneText } from '../../web/parts/timeline/lanes.ts';
import { addressOf, routeOf } from '../../web/route.ts';
import { aroundOf, delayWords, kindWords, startOf, tiesOf } from '../../web/ties.ts';

const signal = (id: string, name: string | null): TiedSignal => ({
  bus: 0,
  busName: 'chassis',
  id,
  ext: 0,
  start: 8,
  length: 12,
  byteOrder: 'little',
  message: null,
  name,
  state: name === null ? 'open' : 'accepted',
});

const figures = { factor: 1, offset: 0, withFactor: 0, r: 0.99, probability: 0.9, evidence: [] };
const at = (delayS: number, lowS: number, highS: number) => ({ delayS, delayLowS: lowS, delayHighS: highS });

/** An angle, its late copy at half the scale, its rate, and a speed that makes a product with the rate. */
const reply: RelationsReply = {
  capture: 'drive.csv',
  signals: ['angle', 'copy', 'rate', 'speed', 'lateral'].map((name, i) => signal(`10${i}`, name)),
  relations: [
    { ...figures, kind: 'together', from: 0, to: 3, with: null, ...at(0, -0.1, 0.1) },
    { ...figures, kind: 'copy', factor: 0.5, from: 0, to: 1, with: null, ...at(-0.012, -0.02, -0.004) },
    { ...figures, kind: 'rate', from: 0, to: 2, with: null, ...at(0, -0.01, 0.01) },
    { ...figures, kind: 'product', from: 2, to: 4, with: 3, ...at(0, -0.01, 0.01) },
  ],
  copies: [[0, 1]],
  names: [],
};

test('what comes earlier or is made use of stands left, what comes later or is made of it right', () => {
  const sides = (of: number) =>
    tiesOf(reply, of).map(({ other, side }) => [reply.signals[other]?.name, side]);
  expect(sides(0)).toEqual([
    ['copy', 'left'],
    ['rate', 'right'],
    ['speed', 'right'],
  ]);
  expect(sides(4)).toEqual([
    ['rate', 'left'],
    ['speed', 'left'],
  ]);
  expect(sides(1)).toEqual([['angle', 'right']]);
});

test('an arrow stands only where one side comes first or is made of the other', () => {
  const { left, right } = aroundOf(reply, 0);
  expect(left.map(({ towards, words, figures: f }) => [towards, words, f])).toEqual([
    ['centre', 'copy × 0.5', '12 ms earlier, p 0.90'],
  ]);
  expect(right.map(({ towards, words }) => [towards, words])).toEqual([
    ['plate', 'rate of change'],
    ['neither', 'moves alike'],
  ]);
  expect(aroundOf(reply, 4).left[0]?.note).toBe('with speed');
});

test('a delay is told from either end, and not where the bounds leave it open', () => {
  const copy = reply.relations[1]!;
  expect([delayWords(copy), delayWords(copy, 'from')]).toEqual(['12 ms earlier', '12 ms later']);
  expect(delayWords(reply.relations[2]!)).toBe('at once');
  expect(kindWords({ ...copy, factor: 1 })).toBe('copy');
});

test('the walk begins at the signal with the most telling ties', () => {
  expect(reply.signals[startOf(reply)]?.name).toBe('angle');
});

test('more ties than have room are counted', () => {
  const many = Array.from({ length: 12 }, (_, i) => signal(`20${i}`, null));
  const relations = many.map((_, i) => ({
    ...figures,
    kind: 'rate' as const,
    from: 0,
    to: i + 1,
    with: null,
    ...at(0, 0, 0),
  }));
  const around = aroundOf({ ...reply, signals: [signal('100', 'angle'), ...many], relations }, 0);
  expect([around.right.length, around.more]).toEqual([7, 5]);
});

test('addresses of relations, cues and lanes lead back to where they came from', () => {
  const place = { bus: 1, id: '18FEF100', ext: 1, start: 39 } as const;
  const lane = {
    query: 'bus=0&id=1A0&ext=0&start=0&length=12&byteOrder=little&signed=true',
    name: 'a & b',
    of: '1A0',
    unit: '°',
    scale: 0.1,
    offset: -4,
  };
  expect(laneOfText(laneText(lane))).toEqual(lane);
  expect(laneOfText('bus=0&id=1A0')).toBeNull();
  for (const route of [
    { sheet: 'messages', capture: '*', message: null, view: { kind: 'cues' } },
    { sheet: 'messages', capture: 'a b.pcap', message: null, view: { kind: 'relations' } },
    { sheet: 'messages', capture: 'a', message: null, view: { kind: 'relations', signal: place } },
    { sheet: 'captures', capture: 'a/b', lane: laneText(lane) },
  ] as const)
    expect(routeOf(addressOf(route))).toEqual(route);
  for (const address of [
    '#/messages/a/relations/bus-1',
    '#/messages/a/cues/x',
    '#/captures/a/lane',
    '#/captures/a/b/c/d',
  ])
    expect(routeOf(address).sheet).toBe('none');
});

const message = (id: string, more: Partial<FindingsMessageReply> = {}): FindingsMessageReply => ({
  bus: 0,
  busName: 'chassis',
  id,
  ext: 0,
  length: 1,
  frames: 100,
  periodMs: 20,
  jitterMs: 0,
  timing: 'periodic',
  missing: 0,
  sender: { group: 1, size: 1, probability: 1, reason: null },
  name: null,
  flipRate: [0.1],
  signals: [],
  counter: null,
  check: null,
  selector: null,
  open: [],
  ...more,
});

test('messages are chosen by any word of their line and ordered as asked', () => {
  const place = { start: 0, length: 4, byteOrder: 'little' } as const;
  const counter: NonNullable<FindingsMessageReply['counter']> = {
    ...place,
    ...{ step: 1, skip: [], probability: 1, evidence: [], state: 'open' },
  };
  const all = [
    message('100', { name: 'wheel speeds' }),
    message('101', { counter, periodMs: 10, flipRate: [0.5] }),
    message('102', { counter: { ...counter, state: 'accepted' }, periodMs: null, timing: 'onChange' }),
  ];
  const ids = (
    order: Parameters<typeof listed>[2],
    wanted = '',
    against: Parameters<typeof listed>[1] = [],
  ) => listed(all, against, order, wanted).map(({ id }) => id);
  expect(ids('identifier', 'wheel')).toEqual(['100']);
  expect(ids('identifier', 'COUNTER open')).toEqual(['101']);
  expect(ids('identifier', 'change')).toEqual(['100', '102']);
  expect(ids('period')).toEqual(['101', '100', '102']);
  expect(ids('activity')).toEqual(['101', '100', '102']);
  expect(ids('open')).toEqual(['101', '100', '102']);
  expect(all.map(undecided)).toEqual([0, 1, 0]);
  const against = [
    {
      bus: 'chassis',
      id: '102',
      ext: 0 as const,
      message: 'm',
      field: 'counter' as const,
      name: '',
      place: null,
      capture: 'c',
      text: 't',
    },
  ];
  expect(ids('contradicted', '', against)[0]).toBe('102');
  expect(ids('identifier', 'contradicted', against)).toEqual(['102']);
});
