import { describe, expect, test } from 'vitest';
import { findAll } from '../../src/findings/find.ts';
import {
  carOf,
  changingLength,
  doubled,
  first,
  jumping,
  lasting,
  still,
  twice,
  type Worse,
  wrongClaims,
} from './badRecordings.ts';

/** Made-up cars on which the cut is wrong in places: what counts is what it says of itself there. */
const SEEDS = [54, 55];
/** From here on a practitioner takes a claim at its word. */
const SURE = 0.9;

const KINDS: [what: string, worse: Worse, said: RegExp][] = [
  ['5 frames of each message', first(5), /Only 5 frames: not enough to tell .* record for longer/],
  [
    '12 frames of each message',
    first(12),
    /not enough to tell .* record .*turn the wheel slowly from lock to lock/,
  ],
  ['payloads that never change', still, /never changed .* not enough to tell .* record while .* is moved/],
  ['one second', lasting(1), /Recorded for .* s only: .* not enough to tell .* record a minute or more/],
  [
    'identifiers whose length changes',
    changingLength,
    /of other lengths .* Not enough to tell .* record again/,
  ],
  [
    'the same recording twice',
    twice,
    /same frames twice over; .* not enough to tell, another recording does/,
  ],
  ['every frame twice', doubled, /every frame twice .* not enough to tell, record again/],
  ['a clock that jumps both ways', jumping, /clock runs backwards .* Not enough to tell .* record once more/],
];

describe('of a recording that is not enough to tell, nothing wrong is stated with 0.9 or more, and it is said what would tell:', () => {
  test.each(KINDS)('%s', async (_, worse, said) => {
    for (const seed of SEEDS) {
      const car = carOf(seed);
      const findings = await findAll(worse(car.capture, seed));
      expect(findings.messages.length, `seed ${seed}`).toBe(car.messages.length);
      const wrong = wrongClaims(car, findings).filter(({ probability }) => probability >= SURE);
      expect(wrong, `seed ${seed}`).toEqual([]);
      expect(findings.messages.map(({ open }) => open.join(' ')).join(' '), `seed ${seed}`).toMatch(said);
    }
  });

  test('wrong claims there are, stated with less', async () => {
    const car = carOf(54);
    expect(wrongClaims(car, await findAll(lasting(1)(car.capture, 54))).length).toBeGreaterThan(0);
  });
});
