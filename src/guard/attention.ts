/**
 * The ladder by which a driver who looks away, or whose hands are off, is called back: a prompt, the same with sound or
 * touch, and at last the car is given back or stopped. Times are the build's own; what UN R171 allows at most is
 * checked beside them (`attentionProblems`). Time in s, speed in m/s.
 */

/** What is asked for at a moment, from nothing to the last step. */
export const RUNGS = ['none', 'prompt', 'escalated', 'alert', 'unavailable'] as const;
export type Rung = (typeof RUNGS)[number];

/** What is watched: both hands off the wheel, or eyes off the road. */
export type Watched = 'hands' | 'eyes';

export interface AttentionLadder {
  watched: Watched;
  /** From the first moment of inattention to the prompt. */
  promptAfterS: number;
  /** The prompt waits this much longer while the other sense is engaged (hands off, eyes on the road). */
  graceS: number;
  /** From the prompt to the same with sound or touch. */
  escalateAfterS: number;
  /** From there to the alert that asks for direct control; null: there is none. */
  alertAfterS: number | null;
  /** From the first escalated request to the answer to an unavailable driver. */
  unavailableAfterS: number;
  /** Attention must last this long to count. */
  regainedForS: number;
  /** Nothing is asked for below this speed. */
  fromMps: number;
  /** After so many unavailable drivers nothing can be handed over any more in this drive. */
  lockAfter: number;
}

/** Times at the limit of UN R171 (5.5.4.2.6, 5.5.4.2.5.2.1, 5.5.4.2.8.1), which are the longest that it allows. */
export const R171: Record<Watched, AttentionLadder> = {
  hands: {
    watched: 'hands',
    promptAfterS: 5,
    graceS: 5,
    escalateAfterS: 10,
    alertAfterS: null,
    unavailableAfterS: 10,
    regainedForS: 0.2,
    fromMps: 10 / 3.6,
    lockAfter: 2,
  },
  eyes: {
    watched: 'eyes',
    promptAfterS: 5,
    graceS: 0,
    escalateAfterS: 3,
    alertAfterS: 5,
    unavailableAfterS: 10,
    regainedForS: 0.2,
    fromMps: 10 / 3.6,
    lockAfter: 2,
  },
};

export interface AttentionState {
  rung: Rung;
  /** Inattentive without a break that counted, s. */
  awayS: number;
  /** How long the prompt was put off, s. */
  waitedS: number;
  /** Attentive without a break, s. */
  backS: number;
  /** Unavailable drivers in this drive. */
  unavailable: number;
  /** No handing over any more in this drive. */
  locked: boolean;
}

/** At the start of a drive. */
export const ATTENTIVE: AttentionState = {
  rung: 'none',
  awayS: 0,
  waitedS: 0,
  backS: 0,
  unavailable: 0,
  locked: false,
};

export interface AttentionInput {
  stepS: number;
  speedMps: number;
  /** What is watched is there: hands on the wheel, or eyes on the road. */
  attentive: boolean;
  /** The other sense is engaged, for `graceS`. */
  otherSense: boolean;
}

/** One step of the watch. The last rung stays until `handedBack` is called: attention alone does not undo it. */
export function attentionStep(
  ladder: AttentionLadder,
  before: AttentionState,
  input: AttentionInput,
): AttentionState {
  if (before.rung === 'unavailable') return before;
  const { stepS, speedMps, attentive, otherSense } = input;
  if (attentive) {
    const backS = before.backS + stepS;
    const counts = backS >= ladder.regainedForS - TINY_S;
    return counts ? { ...before, rung: 'none', awayS: 0, waitedS: 0, backS } : { ...before, backS };
  }
  if (before.awayS === 0 && speedMps < ladder.fromMps) return { ...before, backS: 0 };
  const awayS = before.awayS + stepS;
  const waits = before.rung === 'none' && otherSense && before.waitedS < ladder.graceS - TINY_S;
  const late = awayS >= ladder.promptAfterS + before.waitedS - TINY_S;
  const waitedS = waits && late ? Math.min(ladder.graceS, before.waitedS + stepS) : before.waitedS;
  const rung = rungAfter(ladder, awayS - waitedS);
  const unavailable = before.unavailable + (rung === 'unavailable' ? 1 : 0);
  return { rung, awayS, waitedS, backS: 0, unavailable, locked: unavailable >= ladder.lockAfter };
}

/** The state after the car was given back or has stopped; what was counted in this drive stays. */
export function handedBack(before: AttentionState): AttentionState {
  return { ...ATTENTIVE, unavailable: before.unavailable, locked: before.locked };
}

/** Times of the rungs from the first moment of inattention, s, without grace. */
export function rungTimes(ladder: AttentionLadder): [rung: Rung, atS: number][] {
  const prompt = ladder.promptAfterS;
  const escalated = prompt + ladder.escalateAfterS;
  const alert: [Rung, number][] =
    ladder.alertAfterS === null ? [] : [['alert', escalated + ladder.alertAfterS]];
  return [
    ['prompt', prompt],
    ['escalated', escalated],
    ...alert,
    ['unavailable', escalated + ladder.unavailableAfterS],
  ];
}

/** Where a ladder is slower than UN R171 allows, one sentence each; empty where it is not. */
export function attentionProblems(ladder: AttentionLadder): string[] {
  const most = R171[ladder.watched];
  const slower = TIMES.flatMap(([field, what]) => {
    const [found, limit] = [ladder[field] ?? 0, most[field] ?? 0];
    return found > limit ? [`${what} is ${found} s; UN R171 allows at most ${limit} s`] : [];
  });
  const other: [boolean, string][] = [
    [ladder.regainedForS < most.regainedForS, 'a glance of less than 0.2 s would count as attention'],
    [ladder.fromMps > most.fromMps + TINY_S, 'the watch must work from 10 km/h on'],
    [ladder.lockAfter > most.lockAfter, 'more than one unavailable driver must lock the handing over'],
    [most.alertAfterS !== null && ladder.alertAfterS === null, 'the alert for direct control is missing'],
  ];
  return [...slower, ...other.flatMap(([wrong, sentence]) => (wrong ? [sentence] : []))];
}

const TIMES = [
  ['promptAfterS', 'the time to the prompt'],
  ['graceS', 'the grace of the prompt'],
  ['escalateAfterS', 'the time from prompt to escalation'],
  ['alertAfterS', 'the time from escalation to the alert'],
  ['unavailableAfterS', 'the time from escalation to the answer to an unavailable driver'],
] as const;

/** Sums of steps end this close to the time that they are meant to be. */
const TINY_S = 1e-9;

function rungAfter(ladder: AttentionLadder, awayS: number): Rung {
  const reached = rungTimes(ladder).filter(([, atS]) => awayS >= atS - TINY_S);
  return reached.at(-1)?.[0] ?? 'none';
}
