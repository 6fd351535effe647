/** The evidence of all pairs of messages, over all recordings of a car. */
import { type Clock, clockOf } from './clock.ts';
import { CUES, type PairEvidence, pairEvidence, sharesOf } from './pair.ts';
import type { Recording } from './recordings.ts';
import { WEIGHTS } from './weights.ts';

export type ClockOrNot = Clock | 'tooFew' | 'notRegular';

export interface PairsOfRecording {
  clocks: ClockOrNot[];
  /** Evidence by pair at i × n + j, i < j; absent where one of both has no clock. */
  pairs: Map<number, PairEvidence>;
}

/** Evidence of every pair of one recording. Yields the share done. */
export function* pairSteps(recording: Recording): Generator<number, PairsOfRecording> {
  const n = recording.times.length;
  const clocks: ClockOrNot[] = [];
  for (const time of recording.times) {
    clocks.push(clockOf(time, recording));
    yield (0.2 * clocks.length) / n;
  }
  const there = clocks.flatMap((clock, i) => (typeof clock === 'string' ? [] : [{ clock, i }]));
  const options = {
    lengthS: recording.toS - recording.fromS,
    stampS: recording.stampS,
    frameS: recording.frameS,
    shares: sharesOf(there.map(({ clock }) => clock)),
  };
  const pairs = new Map<number, PairEvidence>();
  for (const [a, one] of there.entries()) {
    for (const other of there.slice(a + 1)) {
      pairs.set(one.i * n + other.i, pairEvidence(one.clock, other.clock, options));
    }
    yield 1 - 0.8 * ((there.length - a - 1) / there.length) ** 2;
  }
  return { clocks, pairs };
}

/** ln odds of one clock from the cues, without the prior. */
export function oddsOf(cues: Float64Array): number {
  let sum = 0;
  CUES.forEach((cue, k) => {
    sum += WEIGHTS[cue] * (cues[k] as number);
  });
  return sum;
}

/** Cues of every pair of every recording; for fitting the weights. */
export function* evidenceCues(recordings: readonly Recording[]) {
  for (const recording of recordings) {
    const n = recording.times.length;
    const steps = pairSteps(recording);
    let step = steps.next();
    while (!step.done) step = steps.next();
    for (const [at, { cues }] of step.value.pairs) yield { i: Math.floor(at / n), j: at % n, cues };
  }
}
