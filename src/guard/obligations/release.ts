/** Letting go: at once for every reason, evenly, and completely within the release time. */

import { approach } from '../../logic/blocks.ts';
import type { NodeId } from '../../logic/form.ts';
import { fadeLadder } from '../figures.ts';
import type { Cause } from '../units.ts';
import { degrees, duration, type Obligation, type Trigger, type Watch } from './watch.ts';

export function release(w: Watch): Obligation[] {
  const { b, f, now, last } = w;
  const leaves = w.triggers.map((t): Obligation => {
    const to = t.kind === 'trip' ? 'tripped' : 'no longer armed';
    return {
      name: `leave.${slug(t.cause)}`,
      sentence: `Armed, and ${t.text}: in that step the guard is ${to}.`,
      when: b.and(w.lastWas('armed'), t.holds),
      must: t.kind === 'trip' ? w.nowIs('tripped') : b.not(w.nowIs('armed')),
    };
  });
  const releases = w.triggers.map((t): Obligation => {
    const since = sinceTrigger(w, t);
    return {
      name: `release.${slug(t.cause)}`,
      sentence: `Once ${t.text} while the guard orders something, the order is zero and given up within ${duration(f.releaseSteps, f)}.`,
      when: b.le(b.const(1), since),
      must: b.lt(since, b.const(f.releaseSteps)),
    };
  });
  const zero = b.eq(now.order, b.const(0));
  const fading = b.and(now.active, b.not(w.nowIs('armed')));
  const [was, is] = [b.abs(last.order), b.abs(now.order)];
  const sameSide = b.or(
    zero,
    b.and(b.lt(b.const(0), now.order), b.lt(b.const(0), last.order)),
    b.and(b.lt(now.order, b.const(0)), b.lt(last.order, b.const(0))),
  );
  const step = fadeStep(w, was);
  const level = w.level;
  const evenly = b.clamp(approach(b, last.order, b.const(0), step), b.sub(b.const(0), level), level);
  const [fine, coarse] = [fadeLadder(f)[0]!, fadeLadder(f).at(-1)!];
  return [
    ...leaves,
    ...releases,
    {
      name: 'fade.towards-zero',
      sentence: 'On the way out the order only comes nearer to zero and never changes sides.',
      when: fading,
      must: b.and(b.le(is, was), sameSide),
    },
    {
      name: 'fade.even',
      sentence: `On the way out the order falls in equal steps, fixed when it begins: the smallest from ${degrees(fine)} to ${degrees(coarse)}, each at most half as large again as the one before, that reaches zero in ${f.releaseSteps} steps; faster only where the level falls faster.`,
      when: b.and(b.not(w.nowIs('armed')), b.not(b.eq(last.order, b.const(0)))),
      must: b.eq(now.order, evenly),
    },
  ];
}

export function slug(cause: Cause): string {
  return cause.replace(/ /g, '-');
}

/**
 * The size of the steps in which a release must go, fixed by the order at its beginning. `seen_fade_room` is how far the
 * order may still be from zero if every step had that size; it serves the proof only.
 */
function fadeStep({ b, f, lastWas }: Watch, was: NodeId): NodeId {
  const ladder = fadeLadder(f);
  const top = ladder.at(-1)!;
  const held = b.state('seen_fade_step', 0, top, 0);
  const room = b.state('seen_fade_room', 0, top * f.releaseSteps, 0);
  const pick = (times: number) =>
    ladder.reduceRight(
      (larger, step) => b.select(b.lt(b.const(step * f.releaseSteps), was), larger, b.const(step * times)),
      b.const(top * times),
    );
  const step = b.select(lastWas('armed'), pick(1), held);
  b.next(held, step);
  const smaller = b.max(b.sub(room, held), b.const(0));
  b.next(room, b.select(lastWas('armed'), pick(f.releaseSteps - 1), smaller));
  return step;
}

/** Steps for which the guard has gone on ordering since the trigger, the trigger's own step counted as 1; 0 without. */
function sinceTrigger(w: Watch, trigger: Trigger): NodeId {
  const { b, f, now, last } = w;
  const before = b.state(`since_${slug(trigger.cause).replace(/-/g, '_')}`, 0, f.releaseSteps, 0);
  const begun = b.or(b.lt(b.const(0), before), b.and(trigger.holds, last.active));
  const more = b.min(b.add(before, b.const(1)), b.const(f.releaseSteps));
  const since = b.select(b.and(begun, now.active), more, b.const(0));
  b.next(before, since);
  return since;
}
