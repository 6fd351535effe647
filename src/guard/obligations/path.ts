/** The order near the path of the road: the observer follows the path for itself. */
import { approach } from '../../logic/blocks.ts';
import type { NodeId } from '../../logic/form.ts';
import { names } from '../inputs.ts';
import type { ChannelWatch } from './channelWatch.ts';
import type { Obligation, Watch } from './watch.ts';
import { amount } from './words.ts';

/** Centre and half width of the band around the path in this step; null without a path. */
export function bandOf(w: Watch, { c, within }: ChannelWatch): { centre: NodeId; within: NodeId } | null {
  if (c.path === null || within === null) return null;
  const { b } = w;
  const held = b.state(`seen_${c.key}_path`, -c.reach, c.reach, 0);
  const wanted = w.input(names(c.key).path);
  const stays = b.and(w.lastWas('armed'), w.nowIs('armed'));
  const centre = b.select(stays, approach(b, held, wanted, b.const(c.path.follow)), wanted);
  b.next(held, centre);
  return { centre, within };
}

export function pathObligations(
  w: Watch,
  { c, now }: ChannelWatch,
  band: { centre: NodeId; within: NodeId } | null,
): Obligation[] {
  if (band === null || c.path === null) return [];
  const { b } = w;
  const zero = b.const(0);
  const table = c.path.within.map(([x, y]) => `${amount(y, c)} at ${x / 100} m/s`).join(', ');
  const armed = b.and(w.nowIs('armed'), w.remote === null ? b.bool(true) : b.not(w.remote));
  return [
    {
      name: `${c.key}.path`,
      sentence: `While armed, the order for ${c.key} goes no further out than the path of the road and this much: ${table}; the path is followed by at most ${amount(c.path.follow, c)} per step.`,
      when: armed,
      must: b.and(
        b.le(now.order, b.max(b.add(band.centre, band.within), zero)),
        b.le(b.min(b.sub(band.centre, band.within), zero), now.order),
      ),
    },
  ];
}
