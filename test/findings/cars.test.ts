import { expect, test } from 'vitest';
import { madeCar } from '../../bench/cars/car.ts';
import { addCar, emptyScore, f1 } from '../../bench/cars/scoreCars.ts';
import { fieldBits } from '../../src/can/bits.ts';
import { findAll } from '../../src/findings/find.ts';

test('a made-up car is the same for the same seed, and no two fields of a layout share a bit', () => {
  const plan = { seconds: 4, messages: 8, multiplexed: 0.5 };
  const [one, again] = [madeCar(5, plan), madeCar(5, plan)];
  expect(one.messages).toEqual(again.messages);
  expect(one.capture.payload).toEqual(again.capture.payload);
  for (const { signals, id } of one.messages) {
    for (const [k, a] of signals.entries()) {
      for (const b of signals.slice(k + 1)) {
        if (a.selectorValue !== null && b.selectorValue !== null && a.selectorValue !== b.selectorValue)
          continue;
        const shared = fieldBits(a).filter((bit) => fieldBits(b).includes(bit));
        expect(shared, `${id}: ${a.name} and ${b.name}`).toEqual([]);
      }
    }
  }
});

test('most fields of a big-endian made-up car are cut exactly, in the right order, with no selector where there is none', async () => {
  const score = emptyScore();
  const car = madeCar(4, { seconds: 24, messages: 6, multiplexed: 0 });
  addCar(score, car, await findAll(car.capture));
  expect(score.trueFields).toBeGreaterThan(20);
  expect(f1(score)).toBeGreaterThan(0.85);
  expect(score.rightOrder).toBe(score.multiByte);
  expect(score.falseSelectors).toBe(0);
});

test('a right cut scores 1, and one that cuts a number short scores less', async () => {
  const car = madeCar(6, { seconds: 6, messages: 3, multiplexed: 0 });
  const findings = await findAll(car.capture);
  const asTrue = {
    ...findings,
    messages: findings.messages.map((m) => ({
      ...m,
      counter: null,
      check: null,
      signals: (car.messages.find(({ id }) => id === m.id)?.signals ?? []).map((s) => ({
        ...s,
        scale: 1,
        offset: 0,
        unit: '',
        probability: 0.9,
        evidence: [],
      })),
    })),
  };
  const right = emptyScore();
  addCar(right, car, asTrue);
  expect(f1(right)).toBe(1);
  const wide = asTrue.messages.flatMap(({ signals }) => signals).find((s) => s.kind === 'number');
  if (wide) wide.length = 2;
  const wrong = emptyScore();
  addCar(wrong, car, asTrue);
  expect(wrong.trueFields).toBe(right.trueFields);
  expect(f1(wrong)).toBeLessThan(1);
});
