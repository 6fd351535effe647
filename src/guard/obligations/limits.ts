/** What an order may be: level, slew, where it starts, and nothing at rest. */
import type { NodeId } from '../../logic/form.ts';
import type { ChannelFigures, Points } from '../figures.ts';
import { names } from '../inputs.ts';
import type { ChannelWatch } from './channelWatch.ts';
import { bandOf, pathObligations } from './path.ts';
import { commandFor } from './remote.ts';
import type { Obligation, Watch } from './watch.ts';
import { amount } from './words.ts';

export function limits(w: Watch): Obligation[] {
  return w.channels.flatMap((channel) => limitsOf(w, channel));
}

function limitsOf(w: Watch, channel: ChannelWatch): Obligation[] {
  const { b, f, input } = w;
  const { c, now, last, level, slew } = channel;
  const stays = b.and(w.lastWas('armed'), w.nowIs('armed'));
  const change = b.sub(now.order, last.order);
  const zero = b.eq(now.order, b.const(0));
  const resting = b.or(w.nowIs('idle'), w.nowIs('ready'));
  const counts = (value: number) => amount(value, c);
  const perStep = (value: number) =>
    `${counts(value)} (${amount((1000 * value) / f.spacingMinMs, c)}/s at the shortest step)`;
  const follow = `speed for this follows the measured speed by at most ${f.speedFollow / 100} m/s per step`;
  const yields = yieldsTo(w, channel);
  const band = bandOf(w, channel);
  const falls = b.not(b.lt(change, b.sub(b.const(0), slew)));
  const start = c.near === null ? b.const(0) : input(names(c.key).measured);
  return [
    {
      name: `${c.key}.level`,
      sentence: `The order for ${c.key} is never larger than the level: ${tableText(c.level, counts)}; the ${follow}.`,
      when: now.active,
      must: b.and(
        b.not(b.lt(level, b.abs(now.order))),
        c.sides === 'both' ? b.bool(true) : b.le(b.const(0), now.order),
      ),
    },
    ...slews(w).map(({ name, who, holds, points }) => ({
      name: `${c.key}.${name}`,
      sentence: `While armed${who}, the order for ${c.key} changes per step by at most ${tableText(points(c), perStep)}; the ${follow}${yields === null ? '' : '; where it yields to braking, it falls at once'}.`,
      when: b.and(stays, holds),
      must: b.and(b.not(b.lt(slew, change)), yields === null ? falls : b.or(falls, yields)),
    })),
    {
      name: `${c.key}.follow`,
      sentence: `While armed, the order for ${c.key} is the command as far as ${c.path ? 'path, ' : ''}slew and level allow${yields === null ? '' : ', and nothing where it yields to braking'}.`,
      when: stays,
      must: b.eq(now.order, orZero(w, yields, followed(w, channel, band))),
    },
    ...pathObligations(w, channel, band),
    {
      name: `${c.key}.start`,
      sentence: `When the guard arms, the order for ${c.key} starts at ${c.near === null ? 'zero' : 'the measured value'}.`,
      when: w.arms,
      must: b.eq(now.order, start),
    },
    {
      name: `${c.key}.quiet`,
      sentence: `Idle or ready, the guard orders nothing for ${c.key}: the order is zero and is not to be followed.`,
      when: resting,
      must: b.and(zero, b.not(now.active)),
    },
    {
      name: `${c.key}.active`,
      sentence: `The order for ${c.key} is to be followed exactly while the guard is armed or that order is not yet back at zero.`,
      when: b.bool(true),
      must: b.eq(now.active, b.or(w.nowIs('armed'), b.not(zero))),
    },
  ];
}

/** Whose slew it is: one obligation each, because a proof about both at once is much harder. */
function slews({ b, remote }: Watch): {
  name: string;
  who: string;
  holds: NodeId;
  points: (c: ChannelFigures) => Points;
}[] {
  const own = (c: ChannelFigures) => c.slew;
  if (remote === null) return [{ name: 'slew', who: '', holds: b.bool(true), points: own }];
  return [
    { name: 'slew', who: ' by the controller', holds: b.not(remote), points: own },
    {
      name: 'remote-slew',
      who: ' by the remote',
      holds: remote,
      points: (c) => [[0, c.remote?.slew ?? 0]],
    },
  ];
}

function followed(w: Watch, { c, last, level, slew }: ChannelWatch, band: ReturnType<typeof bandOf>): NodeId {
  const { b } = w;
  const wish = commandFor(b, w.f, c, w.input, w.remote);
  const near = band && b.clamp(wish, b.sub(band.centre, band.within), b.add(band.centre, band.within));
  const command = near === null ? wish : w.remote === null ? near : b.select(w.remote, wish, near);
  const slewed = b.clamp(command, b.sub(last.order, slew), b.add(last.order, slew));
  return b.clamp(slewed, c.sides === 'both' ? b.sub(b.const(0), level) : b.const(0), level);
}

/** Where drive must not be ordered because braking is; null for a channel that yields to nothing. */
export function yieldsTo({ b, channels }: Watch, { c }: ChannelWatch): NodeId | null {
  const braking = channels.find((other) => other.c.key === 'braking');
  if (c.key !== 'drive' || braking === undefined) return null;
  return b.not(b.eq(braking.now.order, b.const(0)));
}

function orZero({ b }: Watch, yields: NodeId | null, order: NodeId): NodeId {
  return yields === null ? order : b.select(yields, b.const(0), order);
}

function tableText(points: Points, value: (counts: number) => string): string {
  return points.map(([x, y]) => `${value(y)} at ${x / 100} m/s`).join(', ');
}
