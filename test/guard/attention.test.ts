import { expect, test } from 'vitest';
import {
  ATTENTIVE,
  type AttentionLadder,
  type AttentionState,
  attentionProblems,
  attentionStep,
  handedBack,
  R171,
  rungTimes,
} from '../../src/guard/attention.ts';

const quick: AttentionLadder = {
  ...R171.eyes,
  promptAfterS: 2,
  escalateAfterS: 2,
  alertAfterS: null,
  unavailableAfterS: 3,
};

function pass(
  ladder: AttentionLadder,
  from: AttentionState,
  seconds: number,
  input: { attentive?: boolean; otherSense?: boolean; speedMps?: number } = {},
): AttentionState {
  const { attentive = false, otherSense = false, speedMps = 20 } = input;
  let state = from;
  for (let i = 0; i < Math.round(seconds * 10); i++)
    state = attentionStep(ladder, state, { stepS: 0.1, speedMps, attentive, otherSense });
  return state;
}

test('the ladder is climbed at the times that it names, and no sooner', () => {
  expect(pass(quick, ATTENTIVE, 1.9).rung).toBe('none');
  expect(pass(quick, ATTENTIVE, 2).rung).toBe('prompt');
  expect(pass(quick, ATTENTIVE, 4).rung).toBe('escalated');
  expect(pass(quick, ATTENTIVE, 6.9).rung).toBe('escalated');
  expect(pass(quick, ATTENTIVE, 7).rung).toBe('unavailable');
});

test('attention that lasts begins the ladder anew; a shorter glance changes nothing', () => {
  const prompted = pass(quick, ATTENTIVE, 3);
  const glance = pass(quick, prompted, 0.1, { attentive: true });
  expect(glance.rung).toBe('prompt');
  expect(pass(quick, glance, 1).rung).toBe('escalated');
  const back = pass(quick, prompted, 0.2, { attentive: true });
  expect(back).toMatchObject({ rung: 'none', awayS: 0 });
  expect(pass(quick, back, 1.9).rung).toBe('none');
});

test('an unavailable driver stays one until the car is given back, and a second locks the handing over', () => {
  const first = pass(quick, ATTENTIVE, 8);
  expect(pass(quick, first, 5, { attentive: true }).rung).toBe('unavailable');
  expect(first).toMatchObject({ unavailable: 1, locked: false });
  const again = handedBack(first);
  expect(again).toMatchObject({ rung: 'none', unavailable: 1, locked: false });
  expect(pass(quick, again, 8)).toMatchObject({ unavailable: 2, locked: true });
  expect(handedBack(pass(quick, again, 8)).locked).toBe(true);
});

test('nothing begins below the speed of the watch, but what has begun goes on', () => {
  expect(pass(quick, ATTENTIVE, 10, { speedMps: 2 }).rung).toBe('none');
  expect(pass(quick, pass(quick, ATTENTIVE, 1), 1, { speedMps: 2 }).rung).toBe('prompt');
});

test('a slower ladder than allowed is told, field by field', () => {
  expect(attentionProblems(R171.hands)).toEqual([]);
  expect(attentionProblems(quick)).toEqual(['the alert for direct control is missing']);
  expect(
    attentionProblems({ ...R171.hands, promptAfterS: 6, regainedForS: 0.1, fromMps: 5, lockAfter: 3 }),
  ).toEqual([
    'the time to the prompt is 6 s; UN R171 allows at most 5 s',
    'a glance of less than 0.2 s would count as attention',
    'the watch must work from 10 km/h on',
    'more than one unavailable driver must lock the handing over',
  ]);
  expect(rungTimes(quick).map(([, at]) => at)).toEqual([2, 4, 7]);
});
