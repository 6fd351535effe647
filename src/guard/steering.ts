/** The steering channel of the guard as a logic program: what stands between the controller and the steering unit. */
import { ProgramBuilder } from '../logic/builder.ts';
import type { NodeId, Program } from '../logic/form.ts';
import { type SteeringFigures, steeringFigures } from './figures.ts';
import type { GuardPlan } from './model.ts';
import { CAUSES, type Cause, causeNumber, MODES, type Mode, modeNumber, steeringUnits } from './units.ts';

export interface SteeringStage {
  program: Program;
  /** Unit, value per count and interval of every input by name; see `steeringUnits`. */
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
 * the stop input trip. Both fade the order to zero in `releaseSteps`. A trip stays until the order is zero and a press
 * acknowledges it; only a further press can arm again.
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
  const input = inputs(b);
  const state = {
    mode: b.state('mode_held', 0, MODES.length - 1, 0, 'mode after the last step'),
    cause: b.state('cause_held', 0, CAUSES.length - 1, 0, 'cause after the last step'),
    order: b.state('order_held', -f.levelMax, f.levelMax, 0, '0.01°, order of the last step'),
    speed: b.state('speed_followed', 0, steeringUnits.speed.hi, f.speedInit, '0.01 m/s, for the tables'),
    fadeStep: b.state(
      'fade_step',
      0,
      ceilDiv(f.levelMax, f.releaseSteps),
      0,
      '0.01° per step of this release',
    ),
    fadeLeft: b.state('fade_left', 0, f.releaseSteps, 0, 'steps until the order must be zero'),
    hold: b.state('hold_steps', 0, f.armHoldSteps, 0, 'steps for which the arming conditions have held'),
    override: b.state(
      'override_steps',
      0,
      f.overrideSteps,
      0,
      "steps for which the driver's torque has lasted",
    ),
    up: b.state('button_up_steps', 0, f.buttonUpSteps, 0, 'steps for which the button has been up'),
    down: b.state('button_down_steps', 0, f.buttonDownSteps, 0, 'steps for which the button has been down'),
    seenUp: b.stateBool('button_seen_up', false, 'the button was up since the last press'),
    clock: b.state('clock_held', 0, 2 ** 32 - 1, 0, 'ms, clock of the last step'),
    clockSeen: b.stateBool('clock_seen', false, 'clock_held holds a reading'),
  };
  const is = (mode: Mode) => b.eq(state.mode, b.const(modeNumber(mode)));
  const armed = b.named('was_armed', is('armed'));

  const spacing = b.clockSub(input.clock_ms, state.clock, 1023);
  const spacingOk = b.named(
    'spacing_ok',
    b.and(state.clockSeen, b.le(b.const(f.spacingMinMs), spacing), b.le(spacing, b.const(f.spacingMaxMs))),
  );
  b.next(state.clock, input.clock_ms);
  b.next(state.clockSeen, b.bool(true));

  const follow = b.const(f.speedFollow);
  const speed = b.named(
    'speed_now',
    b.clamp(
      b.max(input.speed, b.sub(state.speed, follow)),
      b.const(0),
      b.min(b.add(state.speed, follow), b.const(steeringUnits.speed.hi)),
    ),
  );
  b.next(state.speed, speed);
  const level = b.named('level_now', b.table(speed, 'level', f.level));
  const slew = b.named('slew_now', b.table(speed, 'slew', f.slew));
  const speedOk = b.named(
    'speed_ok',
    b.and(b.le(input.speed, b.const(f.speedMax)), b.le(input.speed, b.add(speed, b.const(f.speedLead)))),
  );

  const fresh = (age: NodeId, steps: number) => b.le(age, b.const(steps));
  const commandFresh = b.named('command_fresh', fresh(input.command_age, f.commandAgeSteps));
  const speedFresh = b.named('speed_fresh', fresh(input.speed_age, f.sensorAgeSteps));
  const angleFresh = b.named('angle_fresh', fresh(input.angle_age, f.sensorAgeSteps));
  const torqueFresh = b.named('torque_fresh', fresh(input.torque_age, f.sensorAgeSteps));

  const hands = b.named('driver_acts', b.le(b.const(f.overrideTorque), b.abs(input.driver_torque)));
  const overrideSteps = countWhile(b, state.override, hands, f.overrideSteps);
  b.next(state.override, overrideSteps);
  const override = b.named('override', b.eq(overrideSteps, b.const(f.overrideSteps)));

  const upSteps = countWhile(b, state.up, b.not(input.arm_input), f.buttonUpSteps);
  const downSteps = countWhile(b, state.down, input.arm_input, f.buttonDownSteps);
  const seenUp = b.or(state.seenUp, b.eq(upSteps, b.const(f.buttonUpSteps)));
  const press = b.named('press', b.and(seenUp, b.eq(downSteps, b.const(f.buttonDownSteps))));
  b.next(state.up, upSteps);
  b.next(state.down, downSteps);
  b.next(state.seenUp, b.and(seenUp, b.not(press)));

  const nearAngle = b.lt(b.abs(b.sub(input.command_angle, input.angle)), b.const(f.armAngle));
  const withinLevel = b.le(b.abs(input.angle), level);
  const conditions = b.named(
    'conditions',
    b.and(
      input.command_request,
      commandFresh,
      speedFresh,
      angleFresh,
      torqueFresh,
      speedOk,
      spacingOk,
      nearAngle,
      withinLevel,
      b.not(hands),
      b.not(input.stop_input),
    ),
  );
  const holdSteps = countWhile(b, state.hold, conditions, f.armHoldSteps);
  b.next(state.hold, holdSteps);
  const held = b.eq(holdSteps, b.const(f.armHoldSteps));

  const tripCause = firstOf(b, [
    ['stop input', input.stop_input],
    ['step spacing', b.not(spacingOk)],
    ['command lost', b.not(commandFresh)],
    ['speed lost', b.not(speedFresh)],
    ['angle lost', b.not(angleFresh)],
    ['torque lost', b.not(torqueFresh)],
    ['speed outside its range', b.not(speedOk)],
  ]);
  const releaseCause = firstOf(b, [
    ['driver override', override],
    ['request withdrawn', b.not(input.command_request)],
    ['button', press],
  ]);
  const none = b.const(causeNumber('none'));
  const trips = b.named('trips', b.and(armed, b.not(b.eq(tripCause, none))));
  const releases = b.named('releases', b.and(armed, b.eq(tripCause, none), b.not(b.eq(releaseCause, none))));
  const arms = b.named('arms', b.and(is('ready'), held, press));
  const stays = b.named('stays_armed', b.and(armed, b.not(trips), b.not(releases)));

  const size = b.max(b.abs(state.order), b.const(0));
  const fadeStep = b.select(
    armed,
    b.divk(b.add(size, b.const(f.releaseSteps - 1)), f.releaseSteps),
    state.fadeStep,
  );
  const fadeLeft = b.max(
    b.sub(b.select(armed, b.const(f.releaseSteps), state.fadeLeft), b.const(1)),
    b.const(0),
  );
  b.next(state.fadeStep, b.clamp(fadeStep, b.const(0), b.const(ceilDiv(f.levelMax, f.releaseSteps))));
  b.next(state.fadeLeft, b.clamp(fadeLeft, b.const(0), b.const(f.releaseSteps)));
  const slewed = b.clamp(input.command_angle, b.sub(state.order, slew), b.add(state.order, slew));
  const faded = b.select(
    b.eq(fadeLeft, b.const(0)),
    b.const(0),
    b.clamp(b.const(0), b.sub(state.order, fadeStep), b.add(state.order, fadeStep)),
  );
  const wanted = b.select(arms, input.angle, b.select(stays, slewed, faded));
  const order = b.named('order_now', b.clamp(wanted, b.sub(b.const(0), level), level));
  b.next(state.order, order);

  const zero = b.eq(order, b.const(0));
  const clear = b.and(is('tripped'), press, b.eq(state.order, b.const(0)));
  const goes = (mode: Mode) => b.const(modeNumber(mode));
  const resting = b.select(held, goes('ready'), goes('idle'));
  const fading = b.select(zero, goes('idle'), goes('releasing'));
  const mode = b.named(
    'mode_now',
    b.select(
      b.or(input.stop_input, trips),
      goes('tripped'),
      b.select(
        b.or(arms, stays),
        goes('armed'),
        b.select(
          b.or(releases, is('releasing')),
          fading,
          b.select(is('tripped'), b.select(clear, goes('idle'), goes('tripped')), resting),
        ),
      ),
    ),
  );
  b.next(state.mode, mode);

  const stopped = b.const(causeNumber('stop input'));
  const cause = b.named(
    'cause_now',
    b.select(
      input.stop_input,
      stopped,
      b.select(
        trips,
        tripCause,
        b.select(releases, releaseCause, b.select(b.or(arms, clear), none, state.cause)),
      ),
    ),
  );
  b.next(state.cause, cause);

  b.output('order_angle', order, '0.01° at the steering wheel');
  const active = b.or(b.eq(mode, goes('armed')), b.not(zero));
  b.output('order_active', b.named('order_active', active), '1 = follow the order');
  b.output('mode', mode, MODES.map((m, i) => `${i} ${m}`).join(', '));
  b.output('cause', cause, CAUSES.map((c, i) => `${i} ${c}`).join(', '));
  return b.finish();
}

function inputs(b: ProgramBuilder): Record<keyof typeof steeringUnits, NodeId> {
  const made = Object.entries(steeringUnits).map(([name, unit]) => {
    const note = [unit.unit && `${unit.perCount === 1 ? '' : `${unit.perCount} `}${unit.unit}`, unit.meaning];
    const text = note.filter((part) => part).join(', ');
    if (name === 'clock_ms') return [name, b.inputClock(name, text)];
    const flag = unit.unit === '' && unit.hi === 1;
    return [name, flag ? b.inputBool(name, text) : b.input(name, unit.lo, unit.hi, text)];
  });
  return Object.fromEntries(made);
}

/** Steps for which a condition has held without a gap, up to `top`; this step included. */
function countWhile(b: ProgramBuilder, count: NodeId, condition: NodeId, top: number): NodeId {
  return b.select(condition, b.min(b.add(count, b.const(1)), b.const(top)), b.const(0));
}

/** Number of the first cause in the list whose condition holds, else of "none". */
function firstOf(b: ProgramBuilder, list: [Cause, NodeId][]): NodeId {
  return list.reduceRight(
    (rest, [cause, condition]) => b.select(condition, b.const(causeNumber(cause)), rest),
    b.const(causeNumber('none')),
  );
}

function ceilDiv(a: number, b: number): number {
  return Math.ceil(a / b);
}
