/** What the observer sees of one channel. */
import type { ProgramBuilder } from '../../logic/builder.ts';
import type { NodeId } from '../../logic/form.ts';
import type { ChannelFigures } from '../figures.ts';
import { names } from '../inputs.ts';
import type { Senses } from './senses.ts';

/** One channel as the observer sees it. */
export interface ChannelWatch {
  c: ChannelFigures;
  now: { order: NodeId; active: NodeId; tracks: NodeId[] };
  last: { order: NodeId; active: NodeId };
  /** Level and slew at the speed that the tables are read at. */
  level: NodeId;
  slew: NodeId;
  /** How far the order may be from the path at that speed; null without a path. */
  within: NodeId | null;
}

/** More than any track has millivolts, either way. */
const TRACK_END = 20_000;

export function channelWatch(
  b: ProgramBuilder,
  c: ChannelFigures,
  { speed, remote }: Pick<Senses, 'speed' | 'remote'>,
): ChannelWatch {
  const { order, active, track } = names(c.key);
  const wide = 4 * c.reach;
  const now = {
    order: b.input(order, -wide, wide, `${c.perCount} ${c.unit}`),
    active: b.inputBool(active),
    tracks: c.tracks.map((_, i) => b.input(track(i), -TRACK_END, TRACK_END, '0.001 V')),
  };
  const last = {
    order: b.state(`last_${order}`, -wide, wide, 0),
    active: b.stateBool(`last_${active}`, false),
  };
  b.next(last.order, now.order);
  b.next(last.active, now.active);
  return {
    c,
    now,
    last,
    level: chosen(b.table(speed, `${c.key}_level`, c.level), c.remote?.level ?? 0),
    within: c.path && b.table(speed, `${c.key}_within`, c.path.within),
    slew: chosen(b.table(speed, `${c.key}_slew`, c.slew), c.remote?.slew ?? 0),
  };

  function chosen(controllers: NodeId, remotes: number): NodeId {
    return remote === null ? controllers : b.select(remote, b.const(remotes), controllers);
  }
}
