/** The two voltages of a spliced pedal: apart from each other, rising or falling, and a window that they can keep. */
import { caution, type PlanProblem, refuse, tidy } from '../../bridge/problem.ts';
import type { GuardPlan } from '../model.ts';

export function trackProblems({ drive }: GuardPlan): PlanProblem[] {
  if (drive?.by !== 'pedal') return [];
  const [first, second] = drive.tracks;
  const problems: PlanProblem[] = drive.tracks.flatMap((track, i) =>
    Math.abs(track.fullV - track.restV) >= LEAST_SPAN_V
      ? []
      : [
          refuse(
            `drive.tracks[${i}]`,
            `${tidy(track.restV)} V at rest and ${tidy(track.fullV)} V at full`,
            `voltages at least ${LEAST_SPAN_V} V apart; otherwise noise is drive`,
          ),
        ],
  );
  if (first.signal === second.signal)
    problems.push(
      refuse(
        'drive.tracks[1].signal',
        `"${second.signal}", as the first track`,
        'a signal of its own for each track',
      ),
    );
  if (first.restV === second.restV && first.fullV === second.fullV)
    problems.push(
      caution(
        'drive.tracks[1]',
        'the same voltages as the first track: a short between them goes unnoticed',
        'tracks that differ, as those of the pedal do',
      ),
    );
  const steps = 1 + Math.abs(second.fullV - second.restV) / Math.abs(first.fullV - first.restV || 1);
  const least = steps / 1000;
  if (drive.windowV < least)
    problems.push(
      refuse(
        'drive.window_v',
        `${tidy(drive.windowV)} V`,
        `at least ${tidy(least)} V: each voltage is given to the millivolt below`,
      ),
    );
  return problems;
}

const LEAST_SPAN_V = 0.2;
