/** What speaks for a signal that follows a cue, in one sentence. */
import { several } from '../words.ts';
import type { Pattern } from './patterns.ts';

interface Follower {
  place: { length: number };
  by: 'value' | 'moves';
}

export function sentence(
  pattern: Pattern,
  { place, by }: Follower,
  effect: { inside: number; outside: number; opposite: number | null },
  { repeats, lagS }: { repeats: number; lagS: number },
): string {
  const one = by === 'moves' || place.length === 1;
  const figure = (v: number) => (one ? `${(100 * v).toFixed(0)} %` : plainNumber(v));
  const during = pattern.graded === 'opposites' ? 'one way' : 'in its windows';
  const other = effect.opposite === null ? '' : `, ${figure(effect.opposite)} the other way`;
  const what = by === 'moves' ? 'Moves in' : one ? 'Is 1 in' : 'Mean raw value';
  const tail = one ? 'of the time' : '';
  const lag =
    lagS === 0 ? '' : lagS > 0 ? `, ${lagS} s after the noted times` : `, ${-lagS} s before the noted times`;
  return `${what} ${figure(effect.inside)} ${tail ? `${tail} ` : ''}${during}${other} and ${figure(effect.outside)} ${
    one ? 'of the rest' : 'otherwise'
  }; ${several(repeats, 'repeat')}${lag}.`;
}

function plainNumber(v: number): string {
  return Number(v.toPrecision(4)).toString();
}
