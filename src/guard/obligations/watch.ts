/**
 * What every obligation looks at: the guard's raw inputs, its outputs in this step and the last, and counts of the
 * observer's own. Nothing here reads a state of the guard.
 */
import { approach, timer } from '../../logic/blocks.ts';
import type { ProgramBuilder } from '../../logic/builder.ts';
import type { NodeId } from '../../logic/form.ts';
import type { SteeringFigures } from '../figures.ts';
import { steeringInputs } from '../steering.ts';
import { type Cause, type Mode, modeNumber, type SteeringInput, steeringUnits } from '../units.ts';

/** One thing that must hold in every step of every run. */
export interface Obligation {
  /** "release.command-lost": stable, unique in a guard. */
  name: string;
  /** Plain sentence with the figures. */
  sentence: string;
  /** Truth-valued nodes: whenever `when` is true, `must` is. */
  when: NodeId;
  must: NodeId;
}

/** Why the guard has to let go, in the observer's own reading of the inputs. */
export interface Trigger {
  cause: Cause;
  kind: 'trip' | 'release';
  /** "the command has been missing for 8 steps (96 ms at most)". */
  text: string;
  holds: NodeId;
}

export interface Condition {
  name: string;
  text: string;
  holds: NodeId;
}

interface Outcome {
  order: NodeId;
  active: NodeId;
  mode: NodeId;
  cause: NodeId;
}

export interface Watch {
  b: ProgramBuilder;
  f: SteeringFigures;
  input: Record<SteeringInput, NodeId>;
  now: Outcome;
  last: Outcome;
  nowIs(mode: Mode): NodeId;
  lastWas(mode: Mode): NodeId;
  /** Level and slew at the speed that the tables are read at. */
  level: NodeId;
  slew: NodeId;
  triggers: Trigger[];
  conditions: Condition[];
  /** All conditions have held for the hold time, at rest. */
  held: NodeId;
  /** A press of the button counts in this step. */
  press: NodeId;
  /** The guard arms in this step. */
  arms: NodeId;
  spacingOk: NodeId;
}

export function watch(b: ProgramBuilder, f: SteeringFigures): Watch {
  const input = steeringInputs(b);
  const wide = 4 * steeringUnits.angle.hi;
  const now: Outcome = {
    order: b.input('order_angle', -wide, wide, '0.01°'),
    active: b.inputBool('order_active'),
    mode: b.input('mode', 0, 15),
    cause: b.input('cause', 0, 15),
  };
  const last: Outcome = {
    order: b.state('last_order', -wide, wide, 0),
    active: b.stateBool('last_active', false),
    mode: b.state('last_mode', 0, 15, 0),
    cause: b.state('last_cause', 0, 15, 0),
  };
  b.next(last.order, now.order);
  b.next(last.active, now.active);
  b.next(last.mode, now.mode);
  b.next(last.cause, now.cause);
  const nowIs = (mode: Mode) => b.eq(now.mode, b.const(modeNumber(mode)));
  const lastWas = (mode: Mode) => b.eq(last.mode, b.const(modeNumber(mode)));

  const seenSpeed = b.state('seen_speed', 0, steeringUnits.speed.hi, f.speedInit);
  const speed = approach(b, seenSpeed, input.speed, b.const(f.speedFollow));
  b.next(seenSpeed, speed);
  const level = b.table(speed, 'level', f.level);
  const slew = b.table(speed, 'slew', f.slew);

  const seenClock = b.stateClock('seen_clock', 0);
  const clockKnown = b.stateBool('seen_clock_known', false);
  b.next(seenClock, input.clock_ms);
  b.next(clockKnown, b.bool(true));
  const spacing = b.clockSub(input.clock_ms, seenClock, 1_000_000);
  const spacingOk = b.and(
    clockKnown,
    b.not(b.lt(spacing, b.const(f.spacingMinMs))),
    b.not(b.lt(b.const(f.spacingMaxMs), spacing)),
  );

  const torque = b.abs(input.driver_torque);
  const hands = b.not(b.lt(torque, b.const(f.overrideTorque)));
  const handsLong = timer(b, 'seen_torque_steps', hands, f.overrideSteps).elapsed;
  const press = freshPress(b, f, input.arm_input);
  const sensed = { b, f, input, speed, level, spacingOk, hands, handsLong, press };
  const conditions = armingConditions(sensed);
  const resting = b.or(lastWas('idle'), lastWas('ready'));
  const all = conditions.map((c) => c.holds).reduce((x, y) => b.and(x, y));
  const held = timer(b, 'seen_hold_steps', b.and(all, resting), f.armHoldSteps).elapsed;
  const arms = b.and(nowIs('armed'), b.not(lastWas('armed')));
  return {
    b,
    f,
    input,
    now,
    last,
    nowIs,
    lastWas,
    level,
    slew,
    triggers: triggersOf(sensed),
    conditions,
    held,
    press,
    arms,
    spacingOk,
  };
}

interface Sensed {
  b: ProgramBuilder;
  f: SteeringFigures;
  input: Record<SteeringInput, NodeId>;
  speed: NodeId;
  level: NodeId;
  spacingOk: NodeId;
  hands: NodeId;
  handsLong: NodeId;
  press: NodeId;
}

/** A press: the button up for a time since the last press that counted, and now down for a time. */
function freshPress(b: ProgramBuilder, f: SteeringFigures, arm: NodeId): NodeId {
  const up = timer(b, 'seen_up_steps', b.not(arm), f.buttonUpSteps).elapsed;
  const down = timer(b, 'seen_down_steps', arm, f.buttonDownSteps).elapsed;
  const before = b.stateBool('seen_up', false);
  const ready = b.or(before, up);
  const press = b.and(down, ready);
  b.next(before, b.and(ready, b.not(press)));
  return press;
}

function armingConditions(s: Sensed): Condition[] {
  const { b, f, input } = s;
  const commandAge = `the command is at most ${f.commandAgeSteps} steps old`;
  const sensor = (what: string) => `${what} is at most ${f.sensorAgeSteps} steps old`;
  const old = (age: NodeId, steps: number) => b.lt(b.const(steps), age);
  const difference = b.abs(b.sub(input.command_angle, input.angle));
  return [
    { name: 'request', text: 'the controller asks to steer', holds: input.command_request },
    { name: 'command', text: commandAge, holds: b.not(old(input.command_age, f.commandAgeSteps)) },
    { name: 'speed-fresh', text: sensor('the speed'), holds: b.not(old(input.speed_age, f.sensorAgeSteps)) },
    {
      name: 'angle-fresh',
      text: sensor('the measured angle'),
      holds: b.not(old(input.angle_age, f.sensorAgeSteps)),
    },
    {
      name: 'torque-fresh',
      text: sensor("the driver's torque"),
      holds: b.not(old(input.torque_age, f.sensorAgeSteps)),
    },
    {
      name: 'near',
      text: `command and measured angle differ by less than ${degrees(f.armAngle)}`,
      holds: b.lt(difference, b.const(f.armAngle)),
    },
    {
      name: 'level',
      text: 'the measured angle is within the level',
      holds: b.not(b.lt(s.level, b.abs(input.angle))),
    },
    {
      name: 'hands',
      text: `the driver's torque is below ${f.overrideTorque / 100} N·m`,
      holds: b.not(s.hands),
    },
    {
      name: 'speed',
      text: `the speed is at most ${f.speedMax / 100} m/s and has not risen faster than a car can by more than ${f.speedLead / 100} m/s`,
      holds: b.not(outside(s)),
    },
    {
      name: 'spacing',
      text: `this step came ${f.spacingMinMs} … ${f.spacingMaxMs} ms after the last`,
      holds: s.spacingOk,
    },
    { name: 'stop', text: 'the stop input is off', holds: b.not(input.stop_input) },
  ];
}

function triggersOf(s: Sensed): Trigger[] {
  const { b, f, input } = s;
  const missing = (what: string, age: NodeId, limit: number): Pick<Trigger, 'text' | 'holds'> => ({
    text: `${what} has been missing for ${limit + 1} steps (at most ${(limit + 2) * f.spacingMaxMs} ms)`,
    holds: b.lt(b.const(limit), age),
  });
  return [
    { cause: 'stop input', kind: 'trip', text: 'the stop input is on', holds: input.stop_input },
    {
      cause: 'step spacing',
      kind: 'trip',
      text: `a step came less than ${f.spacingMinMs} ms or more than ${f.spacingMaxMs} ms after the one before`,
      holds: b.not(s.spacingOk),
    },
    { cause: 'command lost', kind: 'trip', ...missing('the command', input.command_age, f.commandAgeSteps) },
    { cause: 'speed lost', kind: 'trip', ...missing('the speed', input.speed_age, f.sensorAgeSteps) },
    {
      cause: 'angle lost',
      kind: 'trip',
      ...missing('the measured angle', input.angle_age, f.sensorAgeSteps),
    },
    {
      cause: 'torque lost',
      kind: 'trip',
      ...missing("the driver's torque", input.torque_age, f.sensorAgeSteps),
    },
    {
      cause: 'speed outside its range',
      kind: 'trip',
      text: `the speed is above ${f.speedMax / 100} m/s, or has risen faster than a car can by more than ${f.speedLead / 100} m/s`,
      holds: outside(s),
    },
    {
      cause: 'driver override',
      kind: 'release',
      text: `the driver's torque has been at or above ${f.overrideTorque / 100} N·m for ${f.overrideSteps} steps (at most ${f.overrideSteps * f.spacingMaxMs} ms)`,
      holds: s.handsLong,
    },
    {
      cause: 'request withdrawn',
      kind: 'release',
      text: 'the controller no longer asks to steer',
      holds: b.not(input.command_request),
    },
    { cause: 'button', kind: 'release', text: 'the driver presses the button again', holds: s.press },
  ];
}

function outside({ b, f, input, speed }: Sensed): NodeId {
  const fast = b.lt(b.const(f.speedMax), input.speed);
  return b.or(fast, b.lt(b.const(f.speedLead), b.sub(input.speed, speed)));
}

export function degrees(counts: number): string {
  return `${counts / 100}°`;
}

/** "83 steps (at most 996 ms)". */
export function duration(steps: number, f: SteeringFigures): string {
  return `${steps} step${steps === 1 ? '' : 's'} (at most ${steps * f.spacingMaxMs} ms)`;
}
