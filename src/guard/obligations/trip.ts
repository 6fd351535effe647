/** Trips and causes: latched, acknowledged by a press, true to what happened; and the stop input above all. */
import type { NodeId } from '../../logic/form.ts';
import { MODES, type Mode } from '../inputs.ts';
import type { Obligation, Watch } from './watch.ts';

export function trip(w: Watch): Obligation[] {
  const { b, now, last, input } = w;
  const none = w.causeIs({ name: 'none', kind: 'none' });
  const acknowledged = b.and(w.press, w.zeroLast, b.not(input('stop_input')));
  const kept = b.eq(now.cause, last.cause);
  const leftArmed = b.and(w.lastWas('armed'), b.not(w.nowIs('armed')));
  const trueCause = w.triggers.map((t) => b.and(w.causeIs(t.cause), t.holds)).reduce((x, y) => b.or(x, y));
  const tripCauses = w.triggers.filter((t) => t.cause.kind === 'trip').map((t) => w.causeIs(t.cause));
  const unchanged = b.and(
    b.not(input('stop_input')),
    b.not(leftArmed),
    b.not(w.arms),
    b.not(b.and(w.lastWas('tripped'), w.nowIs('idle'))),
  );
  return [
    {
      name: 'trip.latched',
      sentence:
        'A trip stays until, with every order back at zero and the stop input off, a fresh press acknowledges it.',
      when: w.lastWas('tripped'),
      must: b.or(w.nowIs('tripped'), acknowledged),
    },
    {
      name: 'trip.acknowledged',
      sentence:
        'A fresh press, with every order back at zero and the stop input off, clears a trip, and clears no more than that.',
      when: b.and(w.lastWas('tripped'), acknowledged),
      must: b.and(w.nowIs('idle'), none),
    },
    {
      name: 'trip.named',
      sentence: 'While tripped, the guard shows why.',
      when: w.nowIs('tripped'),
      must: tripCauses.reduce((x, y) => b.or(x, y)),
    },
    {
      name: 'cause.true',
      sentence: 'When the guard leaves armed, the cause that it shows is one that holds in that step.',
      when: leftArmed,
      must: trueCause,
    },
    {
      name: 'cause.kept',
      sentence:
        'The cause stays as it is until the guard arms, an acknowledgement clears it or a new one arises.',
      when: unchanged,
      must: kept,
    },
    {
      name: 'cause.cleared',
      sentence: 'While armed, no cause is shown.',
      when: w.nowIs('armed'),
      must: none,
    },
    {
      name: 'stop',
      sentence:
        'The stop input beats everything: in every step with it the guard is tripped, shows the stop input as cause and moves every order only towards zero.',
      when: input('stop_input'),
      must: b.and(
        w.nowIs('tripped'),
        w.causeIs({ name: 'stop input', kind: 'trip' }),
        ...w.channels.map((c) => b.le(b.abs(c.now.order), b.abs(c.last.order))),
      ),
    },
    {
      name: 'mode.paths',
      sentence: `The guard changes between modes only on these ways: ${pathText()}.`,
      when: b.bool(true),
      must: paths(w),
    },
    {
      name: 'release.ends',
      sentence: 'Releasing, the guard becomes idle in the step in which every order is zero, and not before.',
      when: b.and(w.lastWas('releasing'), b.not(input('stop_input'))),
      must: b.select(w.zeroNow, w.nowIs('idle'), w.nowIs('releasing')),
    },
  ];
}

const PATHS: Record<Mode, Mode[]> = {
  idle: ['idle', 'ready', 'tripped'],
  ready: ['idle', 'ready', 'armed', 'tripped'],
  armed: ['armed', 'releasing', 'idle', 'tripped'],
  releasing: ['releasing', 'idle', 'tripped'],
  tripped: ['tripped', 'idle'],
};

function paths(w: Watch): NodeId {
  const { b } = w;
  return MODES.map((from) =>
    b.and(
      w.lastWas(from),
      PATHS[from].map((to) => w.nowIs(to)).reduce((x, y) => b.or(x, y)),
    ),
  ).reduce((x, y) => b.or(x, y));
}

function pathText(): string {
  return MODES.map((from) => `${from} to ${PATHS[from].filter((to) => to !== from).join(' or ')}`).join('; ');
}
