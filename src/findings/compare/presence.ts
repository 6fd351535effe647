/** Whether a message that one recording lacks is really gone, or the recording is too short to tell. */

import type { FoundMessage } from '../model.ts';
import { counted, several } from '../words.ts';

export interface Seen {
  /** Frames, or bursts where the message comes in bursts. */
  times: number;
  seconds: number;
  periodMs: number | null;
}

export function seenIn(message: FoundMessage, seconds: number): Seen {
  const bursts = message.timing === 'burst' && message.periodMs !== null;
  const times = bursts
    ? Math.min(message.frames, Math.max(1, Math.round((1000 * seconds) / (message.periodMs as number))))
    : message.frames;
  const periodic = message.timing === 'periodic' || message.timing === 'mixed' || bursts;
  return { times, seconds, periodMs: periodic ? message.periodMs : null };
}

/**
 * Probability of none in `otherS` seconds after `times` in `seconds`, the rate being unknown but the same:
 * (seconds ÷ (seconds + otherS)) ^ times, the predictive probability of a Poisson process with rate prior 1/λ.
 */
export function absenceChance({ times, seconds }: Seen, otherS: number): number {
  return (seconds / Math.max(1e-9, seconds + otherS)) ** times;
}

/** "Seen 3 times in 60 s of A; at that rate B would have shown it 600 times in 12,000 s." */
export function absenceWords(seen: Seen, otherS: number, [here, there]: readonly [string, string]): string {
  const expected = seen.periodMs
    ? (1000 * otherS) / seen.periodMs
    : (seen.times * otherS) / Math.max(1e-9, seen.seconds);
  const by = seen.periodMs ? `its period of ${tidy(seen.periodMs)} ms` : 'that rate';
  return `seen ${several(seen.times, 'time')} in ${tidy(seen.seconds)} s of ${here}, not in ${there}; ${by} would have shown it ${
    expected < 10 ? expected.toFixed(1) : counted(expected)
  } times in the ${tidy(otherS)} s of ${there}`;
}

export function tidy(v: number): string {
  return v >= 100 ? counted(v) : Number(v.toPrecision(3)).toString();
}
