/** Letting go: at once for every reason, evenly, and completely within the release time. */
import { approach } from '../../logic/blocks.ts';
import type { NodeId } from '../../logic/form.ts';
import { fadeLadder } from '../figures.ts';
import { causeNumber } from '../inputs.ts';
import type { ChannelWatch } from './channelWatch.ts';
import type { Trigger } from './triggers.ts';
import type { Obligation, Watch } from './watch.ts';
import { amount, duration, slug } from './words.ts';

export function release(w: Watch): Obligation[] {
  const { b, f } = w;
  const leaves = w.triggers.map((t): Obligation => {
    const to = t.cause.kind === 'trip' ? 'tripped' : 'no longer armed';
    return {
      name: `leave.${slug(t.cause.name)}`,
      sentence: `Armed, and ${t.text}: in that step the guard is ${to}.`,
      when: b.and(w.lastWas('armed'), t.holds),
      must: t.cause.kind === 'trip' ? w.nowIs('tripped') : b.not(w.nowIs('armed')),
    };
  });
  const releases = w.triggers.map((t): Obligation => {
    const { since, begun } = sinceTrigger(w, t);
    return {
      name: `release.${slug(t.cause.name)}`,
      sentence: `Once ${t.text} while the guard orders something, every order is zero and given up within ${duration(f.releaseSteps, f)}.`,
      when: begun,
      must: b.lt(since, b.const(f.releaseSteps)),
    };
  });
  const fades = w.channels.filter(({ c }) => c.letsGo === 'evenly').flatMap((channel) => fade(w, channel));
  return [...leaves, ...releases, ...fades];
}

function fade(w: Watch, channel: ChannelWatch): Obligation[] {
  const { b, f } = w;
  const { c, now, last, level } = channel;
  const zero = b.eq(now.order, b.const(0));
  const fading = b.and(now.active, b.not(w.nowIs('armed')));
  const [was, is] = [b.abs(last.order), b.abs(now.order)];
  const sameSide = b.or(
    zero,
    b.and(b.lt(b.const(0), now.order), b.lt(b.const(0), last.order)),
    b.and(b.lt(now.order, b.const(0)), b.lt(last.order, b.const(0))),
  );
  const step = fadeStep(w, channel, was);
  const least = c.sides === 'both' ? b.sub(b.const(0), level) : b.const(0);
  const evenly = b.clamp(approach(b, last.order, b.const(0), step), least, level);
  const ladder = fadeLadder(c.levelMax, f.releaseSteps);
  const [fine, coarse] = [ladder[0] as number, ladder.at(-1) as number];
  return [
    {
      name: `${c.key}.fade-towards-zero`,
      sentence: `On the way out the order for ${c.key} only comes nearer to zero and never changes sides.`,
      when: fading,
      must: b.and(b.le(is, was), sameSide),
    },
    {
      name: `${c.key}.fade-even`,
      sentence: `On the way out the order for ${c.key} falls in equal steps, fixed when it begins: the smallest from ${amount(fine, c)} to ${amount(coarse, c)}, each at most half as large again as the one before, that reaches zero in ${f.releaseSteps} steps; faster only where the level falls faster.`,
      when: b.and(b.not(w.nowIs('armed')), b.not(b.eq(last.order, b.const(0)))),
      must: b.eq(now.order, evenly),
    },
  ];
}

/**
 * The size of the steps in which a release must go, fixed by the order at its beginning. `…_fade_room` is how far the
 * order may still be from zero if every step had that size; it serves the proof only.
 */
function fadeStep({ b, f, lastWas }: Watch, { c }: ChannelWatch, was: NodeId): NodeId {
  const ladder = fadeLadder(c.levelMax, f.releaseSteps);
  const top = ladder.at(-1) as number;
  const held = b.state(`seen_${c.key}_fade_step`, 0, top, 0);
  const room = b.state(`seen_${c.key}_fade_room`, 0, top * f.releaseSteps, 0);
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

/** Name of the count of steps since a trigger, by the number of its cause. */
export function sinceName(cause: number): string {
  return `since_cause_${cause}`;
}

/**
 * Steps for which the guard has gone on ordering since the trigger, the trigger's own step counted as 1; 0 without. `begun`
 * holds in every step of that, also in the one in which nothing is ordered any more.
 */
function sinceTrigger(w: Watch, trigger: Trigger): { since: NodeId; begun: NodeId } {
  const { b, f } = w;
  const before = b.state(sinceName(causeNumber(f, trigger.cause.name)), 0, f.releaseSteps, 0);
  const begun = b.or(b.lt(b.const(0), before), b.and(trigger.holds, w.activeLast));
  const more = b.min(b.add(before, b.const(1)), b.const(f.releaseSteps));
  const since = b.select(b.and(begun, w.activeNow), more, b.const(0));
  b.next(before, since);
  return { since, begun };
}
