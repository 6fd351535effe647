/** What the order may be: level, slew, where it starts, and nothing at rest. */
import type { Points } from '../figures.ts';
import { degrees, type Obligation, type Watch } from './watch.ts';

export function limits(w: Watch): Obligation[] {
  const { b, f, now, last, input } = w;
  const size = b.abs(now.order);
  const stays = b.and(w.lastWas('armed'), w.nowIs('armed'));
  const change = b.abs(b.sub(now.order, last.order));
  const within = b.clamp(
    b.clamp(input.command_angle, b.sub(last.order, w.slew), b.add(last.order, w.slew)),
    b.sub(b.const(0), w.level),
    w.level,
  );
  const zero = b.eq(now.order, b.const(0));
  const resting = b.or(w.nowIs('idle'), w.nowIs('ready'));
  const perStep = (counts: number) =>
    `${degrees(counts)} (${(10 * counts) / f.spacingMinMs}°/s at the shortest step)`;
  const follow = `speed for this follows the measured speed by at most ${f.speedFollow / 100} m/s per step`;
  return [
    {
      name: 'level',
      sentence: `The order is never larger than the level: ${tableText(f.level, degrees)}; the ${follow}.`,
      when: now.active,
      must: b.not(b.lt(w.level, size)),
    },
    {
      name: 'slew',
      sentence: `While armed, the order changes per step by at most ${tableText(f.slew, perStep)}; the ${follow}.`,
      when: stays,
      must: b.not(b.lt(w.slew, change)),
    },
    {
      name: 'follow',
      sentence: 'While armed, the order is the command as far as slew and level allow.',
      when: stays,
      must: b.eq(now.order, within),
    },
    {
      name: 'start',
      sentence: 'When the guard arms, the order starts at the measured angle.',
      when: w.arms,
      must: b.eq(now.order, input.angle),
    },
    {
      name: 'quiet',
      sentence:
        'Idle or ready, the guard orders nothing: the order is zero and the steering unit is not to follow it.',
      when: resting,
      must: b.and(zero, b.not(now.active)),
    },
    {
      name: 'active',
      sentence:
        'The steering unit is to follow exactly while the guard is armed or the order is not yet back at zero.',
      when: b.bool(true),
      must: b.eq(now.active, b.or(w.nowIs('armed'), b.not(zero))),
    },
  ];
}

function tableText(points: Points, value: (counts: number) => string): string {
  return points.map(([x, y]) => `${value(y)} at ${x / 100} m/s`).join(', ');
}
