/** Trips and causes: latched, acknowledged by a press, true to what happened; and the stop input above all. */
import type { NodeId } from '../../logic/form.ts';
import { type Cause, causeNumber, MODES, type Mode } from '../units.ts';
import type { Obligation, Watch } from './watch.ts';

export function trip(w: Watch): Obligation[] {
  const { b, now, last, input } = w;
  const isCause = (cause: Cause) => b.eq(now.cause, b.const(causeNumber(cause)));
  const orderWasZero = b.eq(last.order, b.const(0));
  const acknowledged = b.and(w.press, orderWasZero, b.not(input.stop_input));
  const kept = b.eq(now.cause, last.cause);
  const leftArmed = b.and(w.lastWas('armed'), b.not(w.nowIs('armed')));
  const trueCause = w.triggers.map((t) => b.and(isCause(t.cause), t.holds)).reduce((x, y) => b.or(x, y));
  const tripCauses = w.triggers.filter((t) => t.kind === 'trip').map((t) => isCause(t.cause));
  const unchanged = b.and(
    b.not(input.stop_input),
    b.not(leftArmed),
    b.not(w.arms),
    b.not(b.and(w.lastWas('tripped'), w.nowIs('idle'))),
  );
  return [
    {
      name: 'trip.latched',
      sentence:
        'A trip stays until, with the order back at zero and the stop input off, a fresh press acknowledges it.',
      when: w.lastWas('tripped'),
      must: b.or(w.nowIs('tripped'), acknowledged),
    },
    {
      name: 'trip.acknowledged',
      sentence:
        'A fresh press, with the order back at zero and the stop input off, clears a trip, and clears no more than that.',
      when: b.and(w.lastWas('tripped'), acknowledged),
      must: b.and(w.nowIs('idle'), isCause('none')),
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
      must: isCause('none'),
    },
    {
      name: 'stop',
      sentence:
        'The stop input beats everything: in every step with it the guard is tripped, shows the stop input as cause and moves the order only towards zero.',
      when: input.stop_input,
      must: b.and(w.nowIs('tripped'), isCause('stop input'), b.le(b.abs(now.order), b.abs(last.order))),
    },
    {
      name: 'mode.paths',
      sentence: `The guard changes between modes only on these ways: ${pathText()}.`,
      when: b.bool(true),
      must: paths(w),
    },
    {
      name: 'release.ends',
      sentence: 'Releasing, the guard becomes idle in the step in which the order is zero, and not before.',
      when: b.and(w.lastWas('releasing'), b.not(input.stop_input)),
      must: b.select(b.eq(now.order, b.const(0)), w.nowIs('idle'), w.nowIs('releasing')),
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
