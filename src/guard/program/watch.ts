/** What the guard makes of its sensors, its clock and its driver in one step. */
import { approach, timer } from '../../logic/blocks.ts';
import type { ProgramBuilder } from '../../logic/builder.ts';
import type { NodeId } from '../../logic/form.ts';
import { speedHi } from '../counts.ts';
import type { GuardFigures } from '../figures.ts';
import { measuredChannels, names, pathChannels } from '../inputs.ts';
import type { Inputs } from './inputs.ts';

export interface Watched {
  /** Speed for the tables: the measured one, followed no faster than a car can change it. */
  speedNow: NodeId;
  speedOk: NodeId;
  /** The only use of the clock: all times are counted in steps, so the steps must come evenly. */
  spacingOk: NodeId;
  /** The step in which a press of the button counts. */
  press: NodeId;
  /** The driver's torque is at or above the override torque in this step, or the driver acts in another way. */
  driverActs: NodeId;
  /** What takes the car back, with the cause that it shows. */
  takesOver: [cause: string, holds: NodeId][];
  /** Everything that must be fresh is; one entry per cause. */
  fresh: [cause: string, holds: NodeId][];
  /** Measurements agree and the supply is in its band: in this step, and not too long otherwise. */
  sound: { now: NodeId; tripped: [cause: string, holds: NodeId][] };
}

export function watched(b: ProgramBuilder, f: GuardFigures, input: Inputs): Watched {
  const driver = watchDriver(b, f, input);
  return {
    ...followSpeed(b, f, input),
    spacingOk: evenSteps(b, f, input),
    press: watchButton(b, f, input),
    ...driver,
    fresh: freshness(b, f, input),
    sound: soundness(b, f, input),
  };
}

function followSpeed(
  b: ProgramBuilder,
  f: GuardFigures,
  input: Inputs,
): Pick<Watched, 'speedNow' | 'speedOk'> {
  const held = b.state('speed_followed', 0, speedHi, f.speedInit, '0.01 m/s, for the tables');
  const now = b.named('speed_now', approach(b, held, input('speed'), b.const(f.speedFollow)), '0.01 m/s');
  b.next(held, now);
  const inRange = b.le(input('speed'), b.const(f.speedMax));
  const believable = b.le(input('speed'), b.add(now, b.const(f.speedLead)));
  return { speedNow: now, speedOk: b.named('speed_ok', b.and(inRange, believable)) };
}

function evenSteps(b: ProgramBuilder, f: GuardFigures, input: Inputs): NodeId {
  const before = b.stateClock('clock_held', 0, 'ms, clock of the last step');
  const seen = b.stateBool('clock_seen', false, 'clock_held holds a reading');
  b.next(before, input('clock_ms'));
  b.next(seen, b.bool(true));
  const spacing = b.clockSub(input('clock_ms'), before, 2 * f.spacingMaxMs);
  const even = b.and(b.le(b.const(f.spacingMinMs), spacing), b.le(spacing, b.const(f.spacingMaxMs)));
  return b.named('spacing_ok', b.and(seen, even));
}

function watchButton(b: ProgramBuilder, f: GuardFigures, input: Inputs): NodeId {
  const up = timer(b, 'button_up_steps', b.not(input('arm_input')), f.buttonUpSteps);
  const down = timer(b, 'button_down_steps', input('arm_input'), f.buttonDownSteps);
  const seenUp = b.stateBool('button_seen_up', false, 'the button was up since the last press');
  const armable = b.or(seenUp, up.elapsed);
  const press = b.named('press', b.and(armable, down.elapsed));
  b.next(seenUp, b.and(armable, b.not(press)));
  return press;
}

function watchDriver(
  b: ProgramBuilder,
  f: GuardFigures,
  input: Inputs,
): Pick<Watched, 'driverActs' | 'takesOver'> {
  const acting: NodeId[] = [];
  const takesOver: [string, NodeId][] = [];
  if (f.torque) {
    const acts = b.named('torque_acts', b.le(b.const(f.torque.at), b.abs(input('driver_torque'))));
    const lasting = timer(b, 'override_steps', acts, f.torque.steps);
    acting.push(acts);
    takesOver.push(['driver override', b.named('override', lasting.elapsed)]);
  }
  for (const { key, label, steps } of f.acts) {
    const lasting = timer(b, `${key}_steps`, input(key), steps);
    acting.push(input(key));
    takesOver.push([`driver: ${label}`, b.named(`${key}_now`, lasting.elapsed)]);
  }
  return { driverActs: b.named('driver_acts', any(b, acting)), takesOver };
}

function freshness(b: ProgramBuilder, f: GuardFigures, input: Inputs): [string, NodeId][] {
  const young = (cause: string, of: string, steps: number): [string, NodeId] => [
    cause,
    b.named(`${of}_fresh`, b.le(input(`${of}_age`), b.const(steps))),
  ];
  const sensor = (cause: string, of: string) => young(cause, of, f.sensorAgeSteps);
  return [
    sensor('speed lost', 'speed'),
    ...measuredChannels(f).map((c) => sensor(`measured ${c.key} lost`, names(c.key).measured)),
    ...pathChannels(f).map((c) => sensor(`${c.key} path lost`, names(c.key).path)),
    ...(f.torque ? [sensor('torque lost', 'torque')] : []),
    ...f.acts.map(({ key, label }) => sensor(`${label} lost`, key)),
    ...f.agreement.map(({ key, label }) => sensor(`${label} lost`, key)),
    ...(f.supply ? [sensor('supply lost', 'supply')] : []),
  ];
}

function soundness(b: ProgramBuilder, f: GuardFigures, input: Inputs): Watched['sound'] {
  const now: NodeId[] = [];
  const tripped: [string, NodeId][] = [];
  for (const { key, label, differBy, steps } of f.agreement) {
    const apart = b.abs(b.sub(input(`${key}_first`), input(`${key}_second`)));
    const agrees = b.named(`${key}_agrees`, b.le(apart, b.const(differBy)));
    const lasting = timer(b, `${key}_steps`, b.not(agrees), steps);
    now.push(agrees);
    tripped.push([`${label} disagree`, lasting.elapsed]);
  }
  if (f.supply) {
    const inside = b.and(
      b.le(b.const(f.supply.low), input('supply')),
      b.le(input('supply'), b.const(f.supply.high)),
    );
    const inBand = b.named('supply_ok', inside);
    const lasting = timer(b, 'supply_steps', b.not(inBand), f.supply.steps);
    now.push(inBand);
    tripped.push(['supply outside its band', lasting.elapsed]);
  }
  return { now: all(b, now), tripped };
}

export function any(b: ProgramBuilder, list: NodeId[]): NodeId {
  return list.length === 0 ? b.bool(false) : list.reduce((x, y) => b.or(x, y));
}

export function all(b: ProgramBuilder, list: NodeId[]): NodeId {
  return list.length === 0 ? b.bool(true) : list.reduce((x, y) => b.and(x, y));
}
