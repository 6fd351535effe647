import { expect, test } from 'vitest';
import { clockOf } from '../../../src/findings/senders/clock.ts';
import { type Follow, followSteps } from '../../../src/findings/senders/follows.ts';
import { recordingOf } from '../../../src/findings/senders/recordings.ts';
import { random } from '../traffic.ts';

function followsOf(times: Float64Array[], changes?: Float64Array[]): Follow[] {
  const recording = recordingOf(times, changes);
  const steps = followSteps(
    recording,
    recording.times.map((time) => clockOf(time, recording)),
  );
  let step = steps.next();
  while (!step.done) step = steps.next();
  return step.value;
}

function events(rate: number, seconds: number, seed: number): Float64Array {
  const dice = random(seed);
  const times: number[] = [];
  for (let t = 0; t < seconds; t += Math.log(1 / (1 - dice())) / rate) times.push(t);
  return Float64Array.from(times);
}

function every(periodS: number, seconds: number, jitterS: number, seed: number): Float64Array {
  const dice = random(seed);
  return Float64Array.from(
    { length: Math.floor(seconds / periodS) },
    (_, k) => periodS * k + jitterS * dice(),
  );
}

test('an answer to a request now and then is found, with its delay', () => {
  const dice = random(5);
  const request = events(0.5, 120, 21);
  const answer = request.map((t) => t + 0.012 + 0.003 * dice());
  const [found, ...more] = followsOf([request, answer, every(0.01, 120, 1e-4, 2), events(2, 120, 9)]);
  expect(more).toEqual([]);
  expect(found).toMatchObject({ cause: 0, effect: 1, of: 'frame', by: 'frame', copiesPace: false });
  expect(found?.delayS).toBeCloseTo(0.0135, 3);
  expect(found?.jitterS).toBeLessThanOrEqual(0.0025);
  expect(found?.share).toBe(1);
});

test('a payload that changes after another one changed is found', () => {
  const pressed = events(0.3, 200, 31);
  const source = every(0.1, 200, 1e-4, 1);
  const lamp = every(0.05, 200, 1e-4, 2).map((t) => t + 0.007);
  const firstAfter = (train: Float64Array, t: number) => train.find((x) => x > t);
  const shown = [...new Set([...pressed].flatMap((t) => firstAfter(source, t) ?? []))];
  const seen = shown.flatMap((t) => firstAfter(lamp, t + 0.02) ?? []);
  const [found, ...more] = followsOf([source, lamp], [Float64Array.from(shown), Float64Array.from(seen)]);
  expect(more).toEqual([]);
  expect(found).toMatchObject({ cause: 0, effect: 1, of: 'change', by: 'change' });
});

test('an answer to a caller of uneven pace copies that pace', () => {
  const dice = random(6);
  const caller: number[] = [];
  for (let t = 0; t < 300; t += 1 + 0.02 * dice()) caller.push(t);
  const answer = Float64Array.from(caller, (t) => t + 0.0006 + 0.009 * dice());
  const found = followsOf([Float64Array.from(caller), answer]);
  expect(found).toMatchObject([{ cause: 0, effect: 1, copiesPace: true }]);
});

test('nothing follows among messages that know nothing of each other, over thirty draws', () => {
  for (let seed = 1; seed <= 30; seed++) {
    const found = followsOf([
      events(0.5, 120, seed),
      events(3, 120, seed + 100),
      events(20, 120, seed + 200),
      every(0.01, 120, 2e-4, seed),
      every(0.1, 120, 2e-4, seed + 1),
      every(1, 120, 2e-2, seed + 2),
    ]);
    expect(found, `seed ${seed}`).toEqual([]);
  }
});

test('messages of one task do not count as answers to each other', () => {
  const task = every(0.1, 120, 5e-3, 8);
  expect(followsOf([task, task.map((t) => t + 0.0003), task.map((t) => t + 0.0006)])).toEqual([]);
});

test('messages at a pace, each too short for a clock, do not follow each other', () => {
  const slow = [0, 0.2, 0.45, 0.7].map((phase) => every(1, 12, 2e-3, 3).map((t) => t + phase));
  expect(followsOf(slow)).toEqual([]);
});
