/** Keeps a channel's order near the path that the road ahead asks for. */
import { approach } from '../../logic/blocks.ts';
import type { ProgramBuilder } from '../../logic/builder.ts';
import type { NodeId } from '../../logic/form.ts';
import type { ChannelFigures } from '../figures.ts';
import { names } from '../inputs.ts';
import type { Inputs } from './inputs.ts';

export interface PathParts {
  speedNow: NodeId;
  /** The guard was armed and stays so. */
  stays: NodeId;
  /** The remote commands, which no path binds; null without one. */
  remote: NodeId | null;
}

/**
 * What the channel moves towards: the command, brought within the band around the path. The path itself is followed by at
 * most `follow` counts per step while the guard stays armed, so that a path that leaps takes no order along.
 */
export function nearPath(
  b: ProgramBuilder,
  c: ChannelFigures,
  input: Inputs,
  command: NodeId,
  p: PathParts,
): NodeId {
  if (c.path === null) return command;
  const amount = `${c.perCount} ${c.unit}`;
  const held = b.state(`${c.key}_path_held`, -c.reach, c.reach, 0, `${amount}, path that is followed`);
  const wanted = input(names(c.key).path);
  const path = b.select(p.stays, approach(b, held, wanted, b.const(c.path.follow)), wanted);
  const centre = b.named(`${c.key}_path_now`, path, amount);
  b.next(held, centre);
  const within = b.named(`${c.key}_within`, b.table(p.speedNow, `${c.key}_within`, c.path.within), amount);
  const near = b.clamp(command, b.sub(centre, within), b.add(centre, within));
  return p.remote === null ? near : b.select(p.remote, command, near);
}
