/** The guard as a logic program: what stands between the controller and the actuators. */
import { timer } from '../../logic/blocks.ts';
import { ProgramBuilder } from '../../logic/builder.ts';
import type { NodeId, Program } from '../../logic/form.ts';
import type { ChannelKey } from '../channels/plan.ts';
import type { ChannelFigures, GuardFigures } from '../figures.ts';
import { causeNumber, causes, MODES, type Mode, measuredChannels, modeNumber, names } from '../inputs.ts';
import { declareInputs, type Inputs } from './inputs.ts';
import { nextOrder, trackMv } from './order.ts';
import { commandOf, limitsAt, type Source, sourceOf } from './source.ts';
import { all, any, type Watched, watched } from './watch.ts';

/**
 * The guard's program for figures that are already in counts and steps. Outputs: per channel `…_order` and `…_active`, and
 * the voltages of its tracks where it has them; `mode` (as in `MODES`), `cause` (as in `causes`).
 *
 * Idle until the arming conditions have held for the hold time, then ready. A press of the button (seen released
 * before) arms: each order starts at the measured value, or at zero, and follows its command within level and slew.
 * Withdrawn request, the driver's act or another press release; anything lost, a speed outside its range, measurements
 * that disagree, a supply outside its band, uneven steps or the stop input trip. Both take every order to zero within
 * `releaseSteps`, drive at once. A trip stays until every order is zero and a press acknowledges it; only a further press can arm again.
 * Drive yields to braking: no drive is ordered in a step with a braking order. Where a radio remote is selected as the
 * guard arms, it commands in place of the controller with its share of every limit until the guard arms anew.
 *
 * Throws `LogicError` where the tables cannot be computed in 32 bits; `guardPlanProblems` finds such plans beforehand.
 */
export function guardProgram(f: GuardFigures): Program {
  const b = new ProgramBuilder('guard', 'Bounds the controller and gives the car back.');
  const input = declareInputs(b, f);
  const before: Before = {
    mode: b.state('mode_held', 0, MODES.length - 1, 0, 'mode after the last step'),
    order: new Map(f.channels.map((c) => [c.key, orderState(b, c)])),
  };
  const w = watched(b, f, input);
  const armed = isMode(b, before.mode, 'armed');
  const resting = b.or(isMode(b, before.mode, 'idle'), isMode(b, before.mode, 'ready'));
  const source = sourceOf(b, f, input, resting);
  const held = conditionsHeld(b, f, input, w, source, resting);
  const reason = reasons(b, f, input, w, source);

  const trips = b.named('trips', b.and(armed, reason.trip));
  const releases = b.named('releases', b.and(armed, b.not(reason.trip), reason.release));
  const arms = b.named('arms', b.and(isMode(b, before.mode, 'ready'), held, w.press));
  const stays = b.named('stays_armed', b.and(armed, b.not(reason.trip), b.not(reason.release)));
  const moves = { armed, arms, stays, trips, releases };

  const now = nextOrders(b, f, input, before, w.speedNow, source.remote, moves);
  const zero = b.named('orders_zero', allZero(b, [...now.values()]));
  const wasZero = allZero(b, [...before.order.values()]);
  const clears = b.and(isMode(b, before.mode, 'tripped'), w.press, wasZero);
  const mode = nextMode(b, input, before.mode, { ...moves, held, zero, clears });
  const cause = nextCause(b, f, input, reason, { ...moves, clears });
  b.next(before.mode, mode);

  const armedNow = isMode(b, mode, 'armed');
  for (const c of f.channels) {
    const order = now.get(c.key) as NodeId;
    b.next(before.order.get(c.key) as NodeId, order);
    const active = b.or(armedNow, b.not(b.eq(order, b.const(0))));
    b.output(names(c.key).order, order, `${c.perCount} ${c.unit}`);
    b.output(names(c.key).active, b.named(`${c.key}_active_now`, active), '1 = follow the order');
    c.tracks.forEach((track, i) => {
      const name = names(c.key).track(i);
      b.output(name, b.named(`${name}_now`, trackMv(b, c, order, track), '0.001 V'), '0.001 V');
    });
  }
  b.output('mode', mode, MODES.map((m, i) => `${i} ${m}`).join(', '));
  b.output(
    'cause',
    cause,
    causes(f)
      .map((c, i) => `${i} ${c.name}`)
      .join(', '),
  );
  return b.finish();
}

/** What the guard remembers of the last step's outcome. */
interface Before {
  mode: NodeId;
  order: Map<ChannelKey, NodeId>;
}

interface Moves {
  armed: NodeId;
  arms: NodeId;
  stays: NodeId;
  trips: NodeId;
  releases: NodeId;
}

function orderState(b: ProgramBuilder, c: ChannelFigures): NodeId {
  const least = c.sides === 'both' ? -c.levelMax : 0;
  return b.state(`${c.key}_held`, least, c.levelMax, 0, `${c.perCount} ${c.unit}, order of the last step`);
}

function nextOrders(
  b: ProgramBuilder,
  f: GuardFigures,
  input: Inputs,
  before: Before,
  speedNow: NodeId,
  remote: NodeId | null,
  { armed, arms, stays }: Moves,
): Map<ChannelKey, NodeId> {
  const left = b.state('fade_left', 0, f.releaseSteps, 0, 'steps until every order must be zero');
  const full = b.const(f.releaseSteps);
  const fadeLeft = b.max(b.sub(b.select(armed, full, left), b.const(1)), b.const(0));
  b.next(left, fadeLeft);
  const now = new Map<ChannelKey, NodeId>();
  for (const c of f.channels) {
    const braking = now.get('braking');
    const yields = c.key === 'drive' && braking !== undefined ? b.lt(b.const(0), braking) : null;
    const parts = {
      before: before.order.get(c.key) as NodeId,
      speedNow,
      armed,
      arms,
      stays,
      remote,
      fadeLeft,
      yields,
    };
    now.set(c.key, nextOrder(b, f, c, input, parts));
  }
  return now;
}

/** True when every arming condition has held for the hold time, counted only while the guard orders nothing. */
function conditionsHeld(
  b: ProgramBuilder,
  f: GuardFigures,
  input: Inputs,
  w: Watched,
  source: Source,
  resting: NodeId,
): NodeId {
  const placed = measuredChannels(f).flatMap((c) => {
    const measured = input(names(c.key).measured);
    const apart = b.abs(b.sub(commandOf(b, c, input, source.remote), measured));
    const { level } = limitsAt(b, c, w.speedNow, source.remote);
    const placed = [b.lt(apart, b.const(c.near as number)), b.le(b.abs(measured), level)];
    if (c.path === null) return placed;
    const away = b.abs(b.sub(measured, input(names(c.key).path)));
    const near = b.le(away, b.table(w.speedNow, `${c.key}_within`, c.path.within));
    return [...placed, source.remote === null ? near : b.or(source.remote, near)];
  });
  const conditions = all(b, [
    ...source.fresh.map(([, holds]) => holds),
    ...source.trips.map(([, holds]) => b.not(holds)),
    ...w.fresh.map(([, holds]) => holds),
    w.speedOk,
    w.spacingOk,
    w.sound.now,
    source.request,
    ...placed,
    b.not(w.driverActs),
    b.not(input('stop_input')),
  ]);
  return timer(b, 'hold_steps', b.named('conditions', b.and(conditions, resting)), f.armHoldSteps).elapsed;
}

interface Reasons {
  trip: NodeId;
  tripCause: NodeId;
  release: NodeId;
  releaseCause: NodeId;
}

/** Why the guard would leave `armed` in this step; of several, the cause shown is the first in these lists. */
function reasons(b: ProgramBuilder, f: GuardFigures, input: Inputs, w: Watched, source: Source): Reasons {
  const trips: [string, NodeId][] = [
    ['stop input', input('stop_input')],
    ['step spacing', b.not(w.spacingOk)],
    ...[...source.fresh, ...w.fresh].map(([cause, holds]): [string, NodeId] => [cause, b.not(holds)]),
    ...source.trips,
    ['speed outside its range', b.not(w.speedOk)],
    ...w.sound.tripped,
  ];
  const releases: [string, NodeId][] = [
    ...w.takesOver,
    ['request withdrawn', b.not(source.request)],
    ['button', w.press],
  ];
  const first = (list: [string, NodeId][]) =>
    list.reduceRight(
      (rest, [cause, holds]) => b.select(holds, b.const(causeNumber(f, cause)), rest),
      b.const(causeNumber(f, 'none')),
    );
  const holding = (list: [string, NodeId][]) =>
    any(
      b,
      list.map(([, holds]) => holds),
    );
  return {
    trip: holding(trips),
    tripCause: first(trips),
    release: holding(releases),
    releaseCause: first(releases),
  };
}

function nextMode(
  b: ProgramBuilder,
  input: Inputs,
  before: NodeId,
  s: Moves & { held: NodeId; zero: NodeId; clears: NodeId },
): NodeId {
  const to = (mode: Mode) => b.const(modeNumber(mode));
  const resting = b.select(s.held, to('ready'), to('idle'));
  const fading = b.select(s.zero, to('idle'), to('releasing'));
  const waiting = b.select(
    isMode(b, before, 'tripped'),
    b.select(s.clears, to('idle'), to('tripped')),
    resting,
  );
  const leaving = b.select(b.or(s.releases, isMode(b, before, 'releasing')), fading, waiting);
  const going = b.select(b.or(s.arms, s.stays), to('armed'), leaving);
  return b.named('mode_now', b.select(b.or(input('stop_input'), s.trips), to('tripped'), going));
}

function nextCause(
  b: ProgramBuilder,
  f: GuardFigures,
  input: Inputs,
  reason: Reasons,
  s: Moves & { clears: NodeId },
): NodeId {
  const before = b.state('cause_held', 0, causes(f).length - 1, 0, 'cause after the last step');
  const kept = b.select(b.or(s.arms, s.clears), b.const(causeNumber(f, 'none')), before);
  const released = b.select(s.releases, reason.releaseCause, kept);
  const tripped = b.select(s.trips, reason.tripCause, released);
  const stopped = b.select(input('stop_input'), b.const(causeNumber(f, 'stop input')), tripped);
  b.next(before, stopped);
  return b.named('cause_now', stopped);
}

function allZero(b: ProgramBuilder, orders: NodeId[]): NodeId {
  return all(
    b,
    orders.map((order) => b.eq(order, b.const(0))),
  );
}

function isMode(b: ProgramBuilder, mode: NodeId, name: Mode): NodeId {
  return b.eq(mode, b.const(modeNumber(name)));
}
