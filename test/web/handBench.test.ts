import { expect, test } from 'vitest';
import { HandBench } from '../../web/handBench.ts';
import { handoverData } from '../../web/handoverData.ts';
import { fullPlan, remotePlan } from '../guard/plan.ts';

/** Seconds of guard steps of 10 ms. */
const seconds = (s: number) => Math.round(100 * s);

function armed(): HandBench {
  const bench = new HandBench(fullPlan(), 10);
  bench.run(seconds(8));
  expect(bench.shown.mode).toBe('ready');
  bench.set('arm_input', 1);
  bench.run(8);
  bench.set('arm_input', 0);
  bench.run(2);
  expect(bench.shown.mode).toBe('armed');
  return bench;
}

test('left alone, the guard becomes ready; a held button arms it, and orders follow the sliders within their levels', () => {
  const bench = armed();
  bench.set('braking_command', 100);
  bench.run(seconds(3));
  const braking = bench.shown.orders.find((o) => o.channel === 'braking')!;
  expect(braking.order).toBeCloseTo(braking.level, 6);
  expect(braking.active).toBe(true);
  bench.set('steering_command', 3);
  bench.run(seconds(2));
  expect(bench.get('steering_measured')).toBeCloseTo(3, 6);
});

test('what is no longer heard grows old and trips, and the cause is said', () => {
  const bench = armed();
  bench.set('speed_age', 0);
  bench.run(seconds(1));
  expect(bench.shown).toMatchObject({ mode: 'tripped', cause: 'speed lost' });
});

test('every input of the guard but its clock can be set, and only seconds of the past are kept', () => {
  const bench = new HandBench(remotePlan(), 10);
  expect(bench.hands.map((h) => h.name)).toContain('remote_selected');
  expect(bench.hands.map((h) => h.name)).not.toContain('clock_ms');
  bench.run(seconds(20));
  expect(bench.past.length).toBeLessThanOrEqual(seconds(12) + 1);
});

test('the drawing of handing over names every condition, release and trip of the plan', () => {
  const data = handoverData(fullPlan());
  expect(data.releases).toContain('driver: brake pedal');
  expect(data.trips).toEqual(expect.arrayContaining(['supply outside its band', 'stop input']));
  expect(data.conditions.join()).toContain('wheel speed and engine speed agree');
});
