/** Whether a cue was done often enough for the first of its candidates to be believed, and how often it still must be. */
import { several } from '../words.ts';
import type { CueCandidate } from './model.ts';
import type { Pattern } from './patterns.ts';

/** Repeats below this settle nothing: one other thing done at the same moments would look the same. Common practice, no source. */
const LEAST_REPEATS = 3;
const BELIEVED = 0.05;
/** After this many repeats without a follower there is none. */
const GIVEN_UP = 6;

export function enough(
  { name, windows, graded }: Pattern,
  first: CueCandidate | null,
  compared: boolean,
): { more: number; open: string | null } {
  const all = windows.flat();
  const times =
    graded === 'opposites'
      ? Math.min(all.filter((w) => w.level > 0).length, all.filter((w) => w.level < 0).length)
      : all.length;
  if (!compared) {
    return {
      more: LEAST_REPEATS,
      open: `Not enough to tell: no recording shows both with and without "${name}"; record a stretch without it, and repeat it ${several(LEAST_REPEATS, 'time')} with pauses in between.`,
    };
  }
  const p = first?.pValue ?? 1;
  if (times >= LEAST_REPEATS && p <= BELIEVED) return { more: 0, open: null };
  if (times >= GIVEN_UP) {
    return {
      more: 0,
      open: `No signal clearly followed "${name}" in ${several(times, 'repeat')}: it may not be on these buses, or the noted times are off by seconds.`,
    };
  }
  // Each repeat at a time of its own leaves about the same share of chance followers.
  const share = Math.min(0.9, p ** (1 / Math.max(1, times)));
  const needed = p > BELIEVED ? Math.ceil(Math.log(BELIEVED) / Math.log(share)) : LEAST_REPEATS;
  const more = Math.min(20, Math.max(1, LEAST_REPEATS - times, needed - times));
  return { more, open: `Not enough to tell: repeat it ${more} more ${more === 1 ? 'time' : 'times'}.` };
}
