/** What a channel orders in one step. */
import { approach } from '../../logic/blocks.ts';
import type { ProgramBuilder } from '../../logic/builder.ts';
import type { NodeId } from '../../logic/form.ts';
import { type ChannelFigures, fadeLadder, type GuardFigures } from '../figures.ts';
import { names } from '../inputs.ts';
import type { Inputs } from './inputs.ts';
import { nearPath } from './path.ts';
import { commandOf, limitsAt } from './source.ts';

export interface OrderParts {
  /** Order of the last step. */
  before: NodeId;
  speedNow: NodeId;
  armed: NodeId;
  arms: NodeId;
  stays: NodeId;
  /** The remote commands as of this step; null without one. */
  remote: NodeId | null;
  /** Steps of a release that are left, with this one; the same for all channels. */
  fadeLeft: NodeId;
  /** Where it is true, the channel must order nothing; null where nothing stands against it. */
  yields: NodeId | null;
}

/**
 * Armed: towards the command within slew and level, from the measured value on, or from zero where nothing is measured.
 * Otherwise: to zero at once, or in equal steps, the size of which is picked from the ladder when the guard leaves `armed`;
 * a count makes sure of zero at the end whatever the steps were.
 */
export function nextOrder(
  b: ProgramBuilder,
  f: GuardFigures,
  c: ChannelFigures,
  input: Inputs,
  p: OrderParts,
): NodeId {
  const { key, perCount, unit } = c;
  const amount = `${perCount} ${unit}`;
  const mine = limitsAt(b, c, p.speedNow, p.remote);
  const level = b.named(`${key}_level`, mine.level, amount);
  const slew = b.named(`${key}_slew`, mine.slew, `${amount} per step`);
  const zero = b.const(0);
  const target = nearPath(b, c, input, commandOf(b, c, input, p.remote), p);
  const slewed = approach(b, p.before, target, slew);
  const start = c.near === null ? zero : input(names(key).measured);
  const wanted = b.select(p.arms, start, b.select(p.stays, slewed, lettingGo(b, f, c, p)));
  const least = c.sides === 'both' ? b.sub(zero, level) : zero;
  const bounded = b.clamp(wanted, least, level);
  const order = p.yields === null ? bounded : b.select(p.yields, zero, bounded);
  return b.named(`${key}_order_now`, order, amount);
}

function lettingGo(b: ProgramBuilder, f: GuardFigures, c: ChannelFigures, p: OrderParts): NodeId {
  const zero = b.const(0);
  if (c.letsGo === 'at once') return zero;
  const ladder = fadeLadder(c.levelMax, f.releaseSteps);
  const top = ladder.at(-1) as number;
  const note = `${c.perCount} ${c.unit} per step of this release`;
  const held = b.state(`${c.key}_fade_step`, 0, top, 0, note);
  const size = b.abs(p.before);
  const rung = ladder.reduceRight(
    (larger, step) => b.select(b.le(size, b.const(step * f.releaseSteps)), b.const(step), larger),
    b.const(top),
  );
  const step = b.select(p.armed, rung, held);
  b.next(held, step);
  return b.select(b.eq(p.fadeLeft, zero), zero, approach(b, p.before, zero, step));
}

/** The voltage of a track for an order of 0 … 100 %, mV: straight from rest to full, cut off towards rest. */
export function trackMv(
  b: ProgramBuilder,
  c: ChannelFigures,
  order: NodeId,
  track: { restMv: number; fullMv: number },
): NodeId {
  const span = track.fullMv - track.restMv;
  const share = b.divk(b.mulk(order, Math.abs(span)), c.reach);
  return span < 0 ? b.sub(b.const(track.restMv), share) : b.add(b.const(track.restMv), share);
}
