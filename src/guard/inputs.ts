/** Inputs, outputs, modes and causes of a guard: their names, and what their integers mean, for the bridge that feeds it. */
import type { ChannelKey } from './channels/plan.ts';
import { perCount } from './counts.ts';
import { AGE_MAX, type ChannelFigures, type GuardFigures } from './figures.ts';

/** One input or output of a guard program: physical value = count × perCount. */
export interface CountUnit {
  /** "°", "m/s", "N·m", "steps", "ms"; empty for a flag, mode or cause. */
  unit: string;
  /** Physical value of one count. */
  perCount: number;
  /** The bridge clamps what it converts to lo … hi. */
  lo: number;
  hi: number;
  meaning: string;
}

/** Inputs of a guard by name, in the order of its program. */
export function guardInputs(f: GuardFigures): Map<string, CountUnit> {
  const inputs = new Map<string, CountUnit>();
  const age = (name: string, meaning: string) =>
    inputs.set(name, { unit: 'steps', perCount: 1, lo: 0, hi: AGE_MAX, meaning });
  const flag = (name: string, meaning: string) =>
    inputs.set(name, { unit: '', perCount: 1, lo: 0, hi: 1, meaning });
  const value = (name: string, unit: string, hi: number, meaning: string) =>
    inputs.set(name, { unit, perCount: perCount(unit), lo: -hi, hi, meaning });

  for (const c of f.channels) {
    value(names(c.key).command, c.unit, c.reach, `${c.key} that the controller asks for`);
    if (c.remote) value(names(c.key).remote, c.unit, c.reach, `${c.key} that the remote asks for`);
    if (c.path) {
      value(names(c.key).path, c.unit, c.reach, `${c.key} that the road ahead asks for`);
      age(names(c.key).pathAge, `steps since the ${c.key} of the road ahead was last received valid`);
    }
    if (c.near === null) continue;
    value(names(c.key).measured, c.unit, c.reach, `measured ${c.key}`);
    age(names(c.key).measuredAge, `steps since the measured ${c.key} was last received valid`);
  }
  flag('request', '1 = the controller asks for the car');
  age('command_age', 'steps since commands and request were last received valid, the oldest of them');
  inputs.set('speed', {
    unit: 'm/s',
    perCount: perCount('m/s'),
    lo: 0,
    hi: 10_000,
    meaning: 'speed of the car, either direction',
  });
  age('speed_age', 'steps since the speed was last received valid');
  if (f.torque) {
    value('driver_torque', 'N·m', 10_000, "driver's torque at the wheel");
    age('torque_age', 'steps since the torque was last received valid');
  }
  for (const { key, label } of f.acts) {
    flag(key, `1 = the driver acts: ${label}`);
    age(`${key}_age`, `steps since that was last received valid: ${label}`);
  }
  for (const { key, label, unit } of f.agreement) {
    value(`${key}_first`, unit, COMPARED_REACH, `first way to measure: ${label}`);
    value(`${key}_second`, unit, COMPARED_REACH, `second way to measure: ${label}`);
    age(`${key}_age`, `steps since both were last received valid, the older of them: ${label}`);
  }
  if (f.supply) {
    value('supply', 'V', 100_000, 'supply voltage of the actuators');
    age('supply_age', 'steps since the supply voltage was last received valid');
  }
  if (f.remote) {
    flag('remote_selected', '1 = the remote has the place of the controller');
    flag('remote_link', '1 = the radio link stands');
    age('remote_age', 'steps since all of the receiver was last received valid, the oldest of it');
  }
  flag('arm_input', '1 = the button for handing over is pressed');
  flag('stop_input', '1 = stop');
  inputs.set('clock_ms', {
    unit: 'ms',
    perCount: 1,
    lo: 0,
    hi: 2 ** 32 - 1,
    meaning: 'millisecond clock of this step, mod 2³²',
  });
  return inputs;
}

const COMPARED_REACH = 200_000;

/** Names of a channel's inputs, outputs and states. */
export function names(key: ChannelKey) {
  return {
    command: `${key}_command`,
    remote: `${key}_remote`,
    path: `${key}_path`,
    pathAge: `${key}_path_age`,
    measured: `${key}_measured`,
    measuredAge: `${key}_measured_age`,
    order: `${key}_order`,
    active: `${key}_active`,
    track: (i: number) => `${key}_track_${i + 1}`,
  };
}

/** Values of the output `mode`, in this order. */
export const MODES = ['idle', 'ready', 'armed', 'releasing', 'tripped'] as const;
export type Mode = (typeof MODES)[number];

export function modeNumber(mode: Mode): number {
  return MODES.indexOf(mode);
}

/** Why a guard last released or tripped. */
export interface Cause {
  name: string;
  kind: 'none' | 'release' | 'trip';
}

/** Values of the output `cause`, in this order: none, what releases, what trips. */
export function causes(f: GuardFigures): Cause[] {
  const releases = [
    'request withdrawn',
    ...(f.torque ? ['driver override'] : []),
    ...f.acts.map(({ label }) => `driver: ${label}`),
    'button',
  ];
  const trips = [
    'command lost',
    ...(f.remote ? ['remote lost', 'remote too fast', 'remote switched'] : []),
    'speed lost',
    ...measuredChannels(f).map((c) => `measured ${c.key} lost`),
    ...pathChannels(f).map((c) => `${c.key} path lost`),
    ...(f.torque ? ['torque lost'] : []),
    ...f.acts.map(({ label }) => `${label} lost`),
    ...f.agreement.flatMap(({ label }) => [`${label} lost`, `${label} disagree`]),
    ...(f.supply ? ['supply lost', 'supply outside its band'] : []),
    'speed outside its range',
    'step spacing',
    'stop input',
  ];
  return [
    { name: 'none', kind: 'none' },
    ...releases.map((name): Cause => ({ name, kind: 'release' })),
    ...trips.map((name): Cause => ({ name, kind: 'trip' })),
  ];
}

export function measuredChannels(f: GuardFigures): ChannelFigures[] {
  return f.channels.filter((c) => c.near !== null);
}

export function pathChannels(f: GuardFigures): ChannelFigures[] {
  return f.channels.filter((c) => c.path !== null);
}

/** Number of a cause by its name. Throws `RangeError` where the guard has no such cause. */
export function causeNumber(f: GuardFigures, name: string): number {
  const at = causes(f).findIndex((c) => c.name === name);
  if (at < 0) throw new RangeError(`this guard has no cause "${name}"`);
  return at;
}
