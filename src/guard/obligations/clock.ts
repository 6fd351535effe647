/** The clock: read once per step for its spacing, right for every reading. */
import type { Obligation, Watch } from './watch.ts';

export function clock(w: Watch): Obligation[] {
  const { b, f, input } = w;
  const zero = b.stateClock('seen_zero', 0);
  b.next(zero, zero);
  const sinceZero = b.clockSub(input('clock_ms'), zero, 1000);
  const justWrapped = b.lt(sinceZero, b.const(f.spacingMinMs));
  const others = w.triggers
    .filter((t) => t.cause.name !== 'step spacing')
    .map((t) => t.holds)
    .reduce((x, y) => b.or(x, y));
  return [
    {
      name: 'clock.wrap',
      sentence: `When the millisecond clock has just wrapped from 4294967295 to 0, a step that came ${f.spacingMinMs} … ${f.spacingMaxMs} ms after the last is taken as even, and any other trips.`,
      when: b.and(w.lastWas('armed'), justWrapped, b.not(others)),
      must: b.select(w.spacingOk, w.nowIs('armed'), w.nowIs('tripped')),
    },
  ];
}
