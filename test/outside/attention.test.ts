/** Calling a driver back, against the times of UN R171 (driver control assistance systems), Supplement 2. */
import { expect, test } from 'vitest';
import { ATTENTIVE, attentionStep, R171, type Rung } from '../../src/guard/attention.ts';

/** When each rung is first shown, s, for a driver who never comes back. */
function climb(watched: 'hands' | 'eyes', otherSense = false): Partial<Record<Rung, number>> {
  const shown: Partial<Record<Rung, number>> = {};
  let state = ATTENTIVE;
  for (let i = 1; i <= 400; i++) {
    state = attentionStep(R171[watched], state, {
      stepS: 0.1,
      speedMps: 10.01 / 3.6,
      attentive: false,
      otherSense,
    });
    shown[state.rung] ??= i / 10;
  }
  return shown;
}

test('eyes: request within 5 s, escalated within 3 s more, alert within 5 s more, response within 10 s of the escalation', () => {
  // UN R171 Suppl. 2, 5.5.4.2.6.2.1, .2.2, .3.1, .4.1: 5 → 8 → 13 s, response at 18 s with all times at their limit.
  expect(climb('eyes')).toMatchObject({ prompt: 5, escalated: 8, alert: 13, unavailable: 18 });
});

test('hands: request within 5 s, escalated within 10 s more, response within 10 s of that', () => {
  // UN R171 Suppl. 2, 5.5.4.2.6.1.1, .1.2, .4.1: 5 → 15 s, response at 25 s with all times at their limit.
  expect(climb('hands')).toMatchObject({ prompt: 5, escalated: 15, unavailable: 25 });
});

test('the hands-on request may come up to 5 s later while the driver is visually engaged', () => {
  // UN R171 Suppl. 2, 5.5.4.2.6.1.1.
  expect(climb('hands', true)).toMatchObject({ prompt: 10, escalated: 20, unavailable: 30 });
});

test('a gaze counts from 200 ms on', () => {
  // UN R171 Suppl. 2, 5.5.4.2.5.2.1.
  const away = { stepS: 5, speedMps: 20, attentive: false, otherSense: false };
  const asked = attentionStep(R171.eyes, ATTENTIVE, away);
  expect(asked.rung).toBe('prompt');
  const look = { ...away, attentive: true };
  expect(attentionStep(R171.eyes, asked, { ...look, stepS: 0.19 }).rung).toBe('prompt');
  expect(attentionStep(R171.eyes, asked, { ...look, stepS: 0.2 }).rung).toBe('none');
});
