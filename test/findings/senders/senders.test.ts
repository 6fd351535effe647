import fc from 'fast-check';
import { expect, test } from 'vitest';
import { scorePairs } from '../../../bench/senders/score.ts';
import { simulate } from '../../../bench/senders/simulate.ts';
import {
  DuplicateMessageError,
  findSenders,
  type MessageKey,
  recordingOf,
  recordingsOf,
  type Senders,
  sendersOf,
} from '../../../src/findings/senders/index.ts';
import { random } from '../traffic.ts';

function done<T>(steps: Generator<number, T>): T {
  let step = steps.next();
  while (!step.done) step = steps.next();
  return step.value;
}

function named(count: number): MessageKey[] {
  return Array.from({ length: count }, (_, k) => ({ bus: 0, id: 0x100 + k, extended: false }));
}

/** Groups as sets of names, in an order that does not depend on theirs. */
function groupsBy(senders: Senders, name: (i: number) => number): string[] {
  return senders.groups
    .map(({ messages }) =>
      messages
        .map(name)
        .sort((a, b) => a - b)
        .join(),
    )
    .sort();
}

/** Two units 60 ppm apart, each with messages of 10, 20, 50 and 100 ms. */
function twoUnits(seed: number): Float64Array[] {
  const dice = random(seed);
  return [0, 6e-5].flatMap((skew, unit) =>
    [0.01, 0.02, 0.05, 0.1].map((period) =>
      Float64Array.from(
        { length: 40 / period },
        (_, k) => 0.003 * unit + period * k * (1 + skew) + 2e-4 * dice(),
      ),
    ),
  );
}

test('messages of a simulated bus are placed by unit, and the number of units is told', () => {
  const { capture, unitOf, apart } = simulate({
    seed: 31,
    seconds: 120,
    stamps: 'hardware',
    units: 8,
    ids: 26,
  });
  const { messages, recordings } = recordingsOf(capture);
  const senders = done(sendersOf(messages, recordings));
  const groupOf = new Map(senders.groups.flatMap((g, k) => g.messages.map((i) => [i, k] as const)));
  const able = messages.flatMap((m, i) =>
    apart.has(m.id) || senders.messages[i]?.periodMs === null ? [] : [i],
  );
  const truth = able.map((i) => unitOf.get(messages[i]?.id as number) as number);
  const score = scorePairs(
    able.map((i) => groupOf.get(i) ?? null),
    truth,
  );
  expect(score.f1).toBeGreaterThan(0.9);
  const placed = senders.messages.flatMap((m) => (m.notPlaced === null ? [unitOf.get(m.id)] : []));
  expect(senders.units?.low).toBeLessThanOrEqual(new Set(placed).size);
  expect(senders.units?.high).toBeGreaterThanOrEqual(new Set(placed).size);
});

test('two units are told apart and each is known to be on a timer', () => {
  const senders = done(sendersOf(named(8), [recordingOf(twoUnits(4))]));
  expect(groupsBy(senders, (i) => i)).toEqual(['0,1,2,3', '4,5,6,7']);
  expect(senders.units).toMatchObject({ low: 2, high: 2 });
  expect(senders.groups.map((g) => g.tickMs)).toEqual([10, 10]);
  const across = senders.pairs.filter((p) => p.a < 4 && p.b >= 4);
  expect(across.every((p) => p.word === 'noSign' && Math.abs(Math.abs(p.driftPpm as number) - 60) < 5)).toBe(
    true,
  );
  expect(senders.pairs.filter((p) => p.b < 4).every((p) => p.word === 'oneClock')).toBe(true);
});

test('neither the order of messages, nor identifiers, nor a shift of all times matters', () => {
  const times = twoUnits(7);
  const usual = groupsBy(done(sendersOf(named(8), [recordingOf(times)])), (i) => i);
  fc.assert(
    fc.property(
      fc.shuffledSubarray([0, 1, 2, 3, 4, 5, 6, 7], { minLength: 8 }),
      fc.integer({ min: -1_000_000, max: 1_000_000 }),
      (order, shift) => {
        const moved = order.map((k) => (times[k] as Float64Array).map((t) => t + shift / 64));
        const senders = done(sendersOf(named(8), [recordingOf(moved)]));
        expect(groupsBy(senders, (i) => order[i] as number)).toEqual(usual);
      },
    ),
    { seed: 5, numRuns: 6 },
  );
});

test('a message listed twice is refused, with its name', () => {
  const twice = [...named(1), ...named(1)];
  const time = Float64Array.from({ length: 50 }, (_, k) => 0.1 * k);
  expect(() => done(sendersOf(twice, [recordingOf([time, time])]))).toThrow(DuplicateMessageError);
  expect(() => done(sendersOf(twice, [recordingOf([time, time])]))).toThrow(/bus 0 100 is listed twice/);
});

test('messages with too few frames, or sent on events, are left out with the reason', () => {
  const dice = random(2);
  const events = Float64Array.from({ length: 60 }, () => 40 * dice()).sort();
  const senders = done(sendersOf(named(10), [recordingOf([...twoUnits(3), events, events.slice(0, 5)])]));
  expect(senders.messages[8]).toMatchObject({ notPlaced: 'notRegular' });
  expect(senders.messages[9]).toMatchObject({ notPlaced: 'tooFew' });
  expect(senders.messages[9]?.reason).toContain('5 frames');
  expect(senders.groups.flatMap((g) => g.messages)).not.toContain(8);
});

test('an answer is not joined to the message whose pace it copies', () => {
  const dice = random(6);
  const caller: number[] = [];
  for (let t = 0; t < 40; t += 0.2 + 0.004 * dice()) caller.push(t);
  const answer = Float64Array.from(caller, (t) => t + 0.0006 + 0.006 * dice());
  const senders = done(
    sendersOf(named(10), [recordingOf([...twoUnits(3), Float64Array.from(caller), answer])]),
  );
  expect(senders.messages[9]).toMatchObject({ notPlaced: 'answers' });
  expect(senders.messages[9]?.reason).toContain('after 108');
});

test('messages without a common beat are joined by a restart that only they share', () => {
  const restart = (time: Float64Array) => time.filter((t) => t < 17 || t > 18.5);
  const dice = random(12);
  const odd = [0.0733, 0.3017].map((period) =>
    Float64Array.from({ length: 40 / period }, (_, k) => period * k + 2e-4 * dice()),
  );
  const senders = (times: Float64Array[]) =>
    done(sendersOf(named(10), [recordingOf([...twoUnits(3), ...times])]));
  const joined = senders(odd.map(restart)).pairs.find((p) => p.a === 8 && p.b === 9);
  expect(joined?.probability).toBeGreaterThan(0.8);
  expect(joined?.sharedSilences).toBe(1);
  // Without the restart nothing speaks for it.
  const apart = senders(odd);
  expect(apart.groups.some((g) => g.messages.includes(8) && g.messages.length > 1)).toBe(false);
});

test('coarse stamps over a short time bound what is stated', () => {
  const coarse = twoUnits(9).map((time) => time.map((t) => Math.floor(t * 1000) / 1000));
  const senders = done(sendersOf(named(8), [recordingOf(coarse)]));
  expect(senders.limit?.most).toBeLessThanOrEqual(0.8);
  expect(Math.max(...senders.pairs.map((p) => p.probability))).toBeLessThanOrEqual(0.8);
  expect(senders.pairs.every((p) => p.word !== 'oneClock')).toBe(true);
});

test('an empty recording has no senders and no error', () => {
  expect(done(sendersOf([], [])).units).toBeNull();
  expect(done(sendersOf(named(1), [recordingOf([new Float64Array(0)])])).groups).toEqual([]);
});

test('the search stops on request', async () => {
  const { capture } = simulate({ seed: 2, seconds: 5, stamps: 'fine', units: 3, ids: 6 });
  const controller = new AbortController();
  const search = findSenders(capture, {
    signal: controller.signal,
    onProgress: () => controller.abort(new Error('stopped')),
  });
  await expect(search).rejects.toThrow('stopped');
});
