/** The steering channel of the guard as a logic program: what stands between the controller and the steering unit. */
import { approach, timer } from '../logic/blocks.ts';
import { ProgramBuilder } from '../logic/builder.ts';
import type { NodeId, Program } from '../logic/form.ts';
import { fadeLadder, type SteeringFigures, steeringFigures } from './figures.ts';
import type { GuardPlan } from './model.ts';
import {
  CAUSES,
  type Cause,
  causeNumber,
  MODES,
  type Mode,
  modeNumber,
  type SteeringInput,
  steeringUnits,
} from './units.ts';

export interface SteeringStage {
  program: Program;
  /** Unit, value per count and interval of every input by name. */
  inputs: typeof steeringUnits;
  figures: SteeringFigures;
}

/**
 * Builds the steering guard. One step is `stepMs` milliseconds. Outputs: `order_angle` (0.01°), `order_active`, `mode`
 * (as in `MODES`), `cause` (as in `CAUSES`).
 *
 * Idle until the arming conditions have held for the hold time, then ready. A press of the button (seen released
 * before) arms: the order starts at the measured angle and follows the command within level and slew. Withdrawn
 * request, driver's torque or another press release; lost command or sensor, a speed outside its range, uneven steps or
 * the stop input trip. Both fade the order to zero within `releaseSteps`. A trip stays until the order is zero and a
 * press acknowledges it; only a further press can arm again.
 *
 * Throws `LogicError` where the plan's tables cannot be computed in 32 bits; `checkPlan` finds such plans beforehand.
 */
export function steeringStage(plan: GuardPlan, stepMs: number): SteeringStage {
  const figures = steeringFigures(plan, stepMs);
  return { program: steeringProgram(figures), inputs: steeringUnits, figures };
}

/** The guard's program for figures that are already in counts and steps. */
export function steeringProgram(f: SteeringFigures): Program {
  const b = new ProgramBuilder('steering_guard', 'Bounds the steering order and gives the wheel back.');
  const input = steeringInputs(b);
  const before: Before = {
    mode: b.state('mode_held', 0, MODES.length - 1, 0, 'mode after the last step'),
    order: b.state('order_held', -f.levelMax, f.levelMax, 0, '0.01°, order of the last step'),
  };
  const speed = followSpeed(b, f, input);
  const spacingOk = evenSteps(b, f, input);
  const driver = watchDriver(b, f, input);
  const fresh = freshness(b, f, input);
  const held = conditionsHeld(b, f, { input, before, speed, spacingOk, driver, fresh });
  const reason = reasons(b, { input, speed, spacingOk, driver, fresh });

  const armed = isMode(b, before.mode, 'armed');
  const trips = b.named('trips', b.and(armed, reason.trip));
  const releases = b.named('releases', b.and(armed, b.not(reason.trip), reason.release));
  const arms = b.named('arms', b.and(isMode(b, before.mode, 'ready'), held, driver.press));
  const stays = b.named('stays_armed', b.and(armed, b.not(reason.trip), b.not(reason.release)));

  const order = nextOrder(b, f, { input, before, speed, armed, arms, stays });
  const clears = b.and(isMode(b, before.mode, 'tripped'), driver.press, b.eq(before.order, b.const(0)));
  const mode = nextMode(b, { input, before, order, held, trips, releases, arms, stays, clears });
  const cause = nextCause(b, { input, reason, trips, releases, arms, clears });
  b.next(before.mode, mode);
  b.next(before.order, order);

  b.output('order_angle', order, '0.01° at the steering wheel');
  const active = b.or(isMode(b, mode, 'armed'), b.not(b.eq(order, b.const(0))));
  b.output('order_active', b.named('active_now', active), '1 = follow the order');
  b.output('mode', mode, MODES.map((m, i) => `${i} ${m}`).join(', '));
  b.output('cause', cause, CAUSES.map((c, i) => `${i} ${c}`).join(', '));
  return b.finish();
}

/** Declares the inputs of a program about steering, with the units and intervals of `steeringUnits`. */
export function steeringInputs(b: ProgramBuilder): Inputs {
  const made = Object.entries(steeringUnits).map(([name, unit]) => {
    const amount = unit.unit && `${unit.perCount === 1 ? '' : `${unit.perCount} `}${unit.unit}`;
    const note = amount ? `${amount}, ${unit.meaning}` : unit.meaning;
    if (unit.unit === 'ms') return [name, b.inputClock(name, note)];
    return [name, unit.unit === '' ? b.inputBool(name, note) : b.input(name, unit.lo, unit.hi, note)];
  });
  return Object.fromEntries(made);
}

type Inputs = Record<SteeringInput, NodeId>;

/** What the guard remembers of the last step's outcome. */
interface Before {
  mode: NodeId;
  order: NodeId;
}

interface Speed {
  /** Speed for the tables: the measured one, followed no faster than a car can change it. */
  now: NodeId;
  level: NodeId;
  slew: NodeId;
  ok: NodeId;
}

function followSpeed(b: ProgramBuilder, f: SteeringFigures, input: Inputs): Speed {
  const held = b.state('speed_followed', 0, steeringUnits.speed.hi, f.speedInit, '0.01 m/s, for the tables');
  const now = b.named('speed_now', approach(b, held, input.speed, b.const(f.speedFollow)), '0.01 m/s');
  b.next(held, now);
  const inRange = b.le(input.speed, b.const(f.speedMax));
  const believable = b.le(input.speed, b.add(now, b.const(f.speedLead)));
  return {
    now,
    level: b.named('level_now', b.table(now, 'level', f.level), '0.01°'),
    slew: b.named('slew_now', b.table(now, 'slew', f.slew), '0.01° per step'),
    ok: b.named('speed_ok', b.and(inRange, believable)),
  };
}

/** The only use of the clock: all times are counted in steps, so the steps must come evenly. */
function evenSteps(b: ProgramBuilder, f: SteeringFigures, input: Inputs): NodeId {
  const before = b.stateClock('clock_held', 0, 'ms, clock of the last step');
  const seen = b.stateBool('clock_seen', false, 'clock_held holds a reading');
  b.next(before, input.clock_ms);
  b.next(seen, b.bool(true));
  const spacing = b.clockSub(input.clock_ms, before, 2 * f.spacingMaxMs);
  const even = b.and(b.le(b.const(f.spacingMinMs), spacing), b.le(spacing, b.const(f.spacingMaxMs)));
  return b.named('spacing_ok', b.and(seen, even));
}

interface Driver {
  /** Torque at or above the override torque, in this step. */
  acts: NodeId;
  /** … for long enough to take over. */
  override: NodeId;
  /** The step in which a press of the button counts. */
  press: NodeId;
}

function watchDriver(b: ProgramBuilder, f: SteeringFigures, input: Inputs): Driver {
  const acts = b.named('driver_acts', b.le(b.const(f.overrideTorque), b.abs(input.driver_torque)));
  const lasting = timer(b, 'override_steps', acts, f.overrideSteps);
  const up = timer(b, 'button_up_steps', b.not(input.arm_input), f.buttonUpSteps);
  const down = timer(b, 'button_down_steps', input.arm_input, f.buttonDownSteps);
  const seenUp = b.stateBool('button_seen_up', false, 'the button was up since the last press');
  const armable = b.or(seenUp, up.elapsed);
  const press = b.named('press', b.and(armable, down.elapsed));
  b.next(seenUp, b.and(armable, b.not(press)));
  return { acts, override: b.named('override', lasting.elapsed), press };
}

interface Fresh {
  command: NodeId;
  speed: NodeId;
  angle: NodeId;
  torque: NodeId;
}

function freshness(b: ProgramBuilder, f: SteeringFigures, input: Inputs): Fresh {
  const young = (name: string, age: NodeId, steps: number) => b.named(name, b.le(age, b.const(steps)));
  return {
    command: young('command_fresh', input.command_age, f.commandAgeSteps),
    speed: young('speed_fresh', input.speed_age, f.sensorAgeSteps),
    angle: young('angle_fresh', input.angle_age, f.sensorAgeSteps),
    torque: young('torque_fresh', input.torque_age, f.sensorAgeSteps),
  };
}

interface Sensed {
  input: Inputs;
  speed: Speed;
  spacingOk: NodeId;
  driver: Driver;
  fresh: Fresh;
}

/** True when every arming condition has held for the hold time, counted only while the guard orders nothing. */
function conditionsHeld(b: ProgramBuilder, f: SteeringFigures, s: Sensed & { before: Before }): NodeId {
  const { input, fresh } = s;
  const nearAngle = b.lt(b.abs(b.sub(input.command_angle, input.angle)), b.const(f.armAngle));
  const withinLevel = b.le(b.abs(input.angle), s.speed.level);
  const hold = b.and(fresh.command, fresh.speed, fresh.angle, fresh.torque, s.speed.ok, s.spacingOk);
  const conditions = b.and(
    hold,
    input.command_request,
    nearAngle,
    withinLevel,
    b.not(s.driver.acts),
    b.not(input.stop_input),
  );
  const resting = b.or(isMode(b, s.before.mode, 'idle'), isMode(b, s.before.mode, 'ready'));
  return timer(b, 'hold_steps', b.named('conditions', b.and(conditions, resting)), f.armHoldSteps).elapsed;
}

interface Reasons {
  trip: NodeId;
  tripCause: NodeId;
  release: NodeId;
  releaseCause: NodeId;
}

/** Why the guard would leave `armed` in this step; of several, the cause shown is the first in these lists. */
function reasons(b: ProgramBuilder, s: Sensed): Reasons {
  const trips: [Cause, NodeId][] = [
    ['stop input', s.input.stop_input],
    ['step spacing', b.not(s.spacingOk)],
    ['command lost', b.not(s.fresh.command)],
    ['speed lost', b.not(s.fresh.speed)],
    ['angle lost', b.not(s.fresh.angle)],
    ['torque lost', b.not(s.fresh.torque)],
    ['speed outside its range', b.not(s.speed.ok)],
  ];
  const releases: [Cause, NodeId][] = [
    ['driver override', s.driver.override],
    ['request withdrawn', b.not(s.input.command_request)],
    ['button', s.driver.press],
  ];
  const first = (list: [Cause, NodeId][]) =>
    list.reduceRight(
      (rest, [cause, holds]) => b.select(holds, b.const(causeNumber(cause)), rest),
      b.const(causeNumber('none')),
    );
  const any = (list: [Cause, NodeId][]) => list.map(([, holds]) => holds).reduce((x, y) => b.or(x, y));
  return { trip: any(trips), tripCause: first(trips), release: any(releases), releaseCause: first(releases) };
}

/**
 * Armed: towards the command within slew and level, from the measured angle on. Otherwise: to zero in equal steps, the
 * size of which is picked from the ladder when the guard leaves `armed`; a count makes sure of zero at the end whatever
 * the steps were.
 */
function nextOrder(
  b: ProgramBuilder,
  f: SteeringFigures,
  s: { input: Inputs; before: Before; speed: Speed; armed: NodeId; arms: NodeId; stays: NodeId },
): NodeId {
  const ladder = fadeLadder(f);
  const fadeStep = b.state('fade_step', 0, ladder.at(-1) ?? 0, 0, '0.01° per step of this release');
  const fadeLeft = b.state('fade_left', 0, f.releaseSteps, 0, 'steps until the order must be zero');
  const size = b.abs(s.before.order);
  const rung = ladder.reduceRight(
    (larger, step) => b.select(b.le(size, b.const(step * f.releaseSteps)), b.const(step), larger),
    b.const(ladder.at(-1) ?? 0),
  );
  const step = b.select(s.armed, rung, fadeStep);
  const left = b.max(b.sub(b.select(s.armed, b.const(f.releaseSteps), fadeLeft), b.const(1)), b.const(0));
  b.next(fadeStep, step);
  b.next(fadeLeft, left);
  const zero = b.const(0);
  const faded = b.select(b.eq(left, zero), zero, approach(b, s.before.order, zero, step));
  const slewed = approach(b, s.before.order, s.input.command_angle, s.speed.slew);
  const wanted = b.select(s.arms, s.input.angle, b.select(s.stays, slewed, faded));
  return b.named('order_now', b.clamp(wanted, b.sub(zero, s.speed.level), s.speed.level), '0.01°');
}

function nextMode(
  b: ProgramBuilder,
  s: {
    input: Inputs;
    before: Before;
    order: NodeId;
    held: NodeId;
    trips: NodeId;
    releases: NodeId;
    arms: NodeId;
    stays: NodeId;
    clears: NodeId;
  },
): NodeId {
  const to = (mode: Mode) => b.const(modeNumber(mode));
  const resting = b.select(s.held, to('ready'), to('idle'));
  const fading = b.select(b.eq(s.order, b.const(0)), to('idle'), to('releasing'));
  const waiting = b.select(
    isMode(b, s.before.mode, 'tripped'),
    b.select(s.clears, to('idle'), to('tripped')),
    resting,
  );
  const leaving = b.select(b.or(s.releases, isMode(b, s.before.mode, 'releasing')), fading, waiting);
  const going = b.select(b.or(s.arms, s.stays), to('armed'), leaving);
  return b.named('mode_now', b.select(b.or(s.input.stop_input, s.trips), to('tripped'), going));
}

function nextCause(
  b: ProgramBuilder,
  s: {
    input: Inputs;
    reason: Reasons;
    trips: NodeId;
    releases: NodeId;
    arms: NodeId;
    clears: NodeId;
  },
): NodeId {
  const before = b.state('cause_held', 0, CAUSES.length - 1, 0, 'cause after the last step');
  const kept = b.select(b.or(s.arms, s.clears), b.const(causeNumber('none')), before);
  const released = b.select(s.releases, s.reason.releaseCause, kept);
  const tripped = b.select(s.trips, s.reason.tripCause, released);
  const stopped = b.select(s.input.stop_input, b.const(causeNumber('stop input')), tripped);
  b.next(before, stopped);
  return b.named('cause_now', stopped);
}

function isMode(b: ProgramBuilder, mode: NodeId, name: Mode): NodeId {
  return b.eq(mode, b.const(modeNumber(name)));
}
