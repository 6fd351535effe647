/**
 * How sure a recording lets one be at most, whatever a field looks like in it. The probabilities of the cut were calibrated on
 * recordings of a minute and more; a shorter one, one with few frames of a message, or one that is not sound (its clock runs
 * backwards, payloads change their length) gives less. Shares of the form n / (n + k) after the rule of succession; the
 * constants k are chosen so that nothing reaches 0.9 from less than 18 s, 36 frames, or 18 frames of a counter.
 */
import type { FoundCounter, FoundSignal } from './model.ts';
import type { MessageRows } from './rows.ts';

/** Seconds and frames beside what was recorded, for fields; frames for counters. */
const SECONDS = 2;
const FRAMES = 4;
const COUNTER_FRAMES = 2;
/** Bits that stood still may move when what they carry does: a quarter of an hour makes 0.9 of it. */
const STILL_SECONDS = 100;
/** A recording that is not sound. */
const UNSOUND = 0.85;
/** A message in which nothing moved says nothing about its fields. */
const NOTHING_MOVED = 0.5;
/** Share of frames of other lengths from which a message is not sound. */
const OTHER_LENGTHS = 0.02;

export interface Ceilings {
  fields: number;
  still: number;
  counter: number;
}

/** `seconds`: how long was recorded, copies left out; `backwards`: times the clock was set back. */
export function ceilingsOf(
  rows: MessageRows,
  { seconds, backwards }: { seconds: number; backwards: number },
): Ceilings {
  const { count, otherLength } = rows;
  const unsound = backwards > 0 || otherLength > OTHER_LENGTHS * (count + otherLength);
  const sound = unsound ? UNSOUND : 1;
  return {
    fields: Math.min(sound, seconds / (seconds + SECONDS), count / (count + FRAMES)),
    still: Math.min(sound, seconds / (seconds + STILL_SECONDS)),
    counter: count / (count + COUNTER_FRAMES),
  };
}

/** The fields with no more than what the recording allows. */
export function cappedFields(signals: readonly FoundSignal[], { fields, still }: Ceilings): FoundSignal[] {
  const moved = signals.some(({ kind }) => kind !== 'constant');
  const most = moved ? still : Math.min(still, NOTHING_MOVED);
  return signals.map((signal) => ({
    ...signal,
    probability: Math.min(signal.probability, signal.kind === 'constant' ? most : fields),
  }));
}

export function cappedCounter(
  counter: FoundCounter | null,
  { counter: most }: Ceilings,
): FoundCounter | null {
  return counter && { ...counter, probability: Math.min(counter.probability, most) };
}
