/** Why the guard has to let go, in the observer's own reading of the inputs. */
import type { ProgramBuilder } from '../../logic/builder.ts';
import type { NodeId } from '../../logic/form.ts';
import type { GuardFigures } from '../figures.ts';
import { type Cause, causes, measuredChannels, names, pathChannels } from '../inputs.ts';
import type { Inputs } from '../program/inputs.ts';
import type { Senses } from './senses.ts';
import { amount, duration } from './words.ts';

export interface Trigger {
  cause: Cause;
  /** "the command has been missing for 8 steps (96 ms at most)". */
  text: string;
  holds: NodeId;
}

export function triggersOf(b: ProgramBuilder, f: GuardFigures, input: Inputs, s: Senses): Trigger[] {
  const known = new Map(causes(f).map((cause) => [cause.name, cause]));
  const trigger = (cause: string, text: string, holds: NodeId): Trigger => ({
    cause: known.get(cause) as Cause,
    text,
    holds,
  });
  const missing = (cause: string, what: string, age: string, limit: number) =>
    trigger(
      cause,
      `${what} has been missing for ${limit + 1} steps (at most ${(limit + 2) * f.spacingMaxMs} ms)`,
      b.lt(b.const(limit), input(age)),
    );
  const sensor = (cause: string, what: string, age: string) => missing(cause, what, age, f.sensorAgeSteps);
  return [
    trigger('stop input', 'the stop input is on', input('stop_input')),
    trigger(
      'step spacing',
      `a step came less than ${f.spacingMinMs} ms or more than ${f.spacingMaxMs} ms after the one before`,
      b.not(s.spacingOk),
    ),
    ...commanding(
      b,
      f,
      input,
      s,
      trigger,
      missing('command lost', 'a command', 'command_age', f.commandAgeSteps),
    ),
    sensor('speed lost', 'the speed', 'speed_age'),
    ...measuredChannels(f).map((c) =>
      sensor(`measured ${c.key} lost`, `the measured ${c.key}`, names(c.key).measuredAge),
    ),
    ...pathChannels(f).map((c) =>
      sensor(`${c.key} path lost`, `the ${c.key} of the road ahead`, names(c.key).pathAge),
    ),
    ...(f.torque && s.hands
      ? [
          sensor('torque lost', "the driver's torque", 'torque_age'),
          trigger(
            'driver override',
            `the driver's torque has been at or above ${f.torque.at / 100} N·m for ${duration(f.torque.steps, f)}`,
            s.hands.long,
          ),
        ]
      : []),
    ...f.acts.flatMap(({ key, label, steps }, i) => [
      sensor(`${label} lost`, `what tells of the driver's ${label}`, `${key}_age`),
      trigger(
        `driver: ${label}`,
        `the driver has acted (${label}) for ${duration(steps, f)}`,
        s.acts[i]!.long,
      ),
    ]),
    ...f.agreement.flatMap((a, i) => [
      sensor(`${a.label} lost`, `one of the measurements ${a.label}`, `${a.key}_age`),
      trigger(
        `${a.label} disagree`,
        `${a.label} have differed by more than ${amount(a.differBy, a)} for ${duration(a.steps, f)}`,
        s.apart[i]!.long,
      ),
    ]),
    ...(f.supply && s.supply
      ? [
          sensor('supply lost', 'the supply voltage', 'supply_age'),
          trigger(
            'supply outside its band',
            `the supply has been outside ${f.supply.low / 1000} … ${f.supply.high / 1000} V for ${duration(f.supply.steps, f)}`,
            s.supply.long,
          ),
        ]
      : []),
    trigger(
      'speed outside its range',
      `the speed is above ${f.speedMax / 100} m/s, or has risen faster than a car can by more than ${f.speedLead / 100} m/s`,
      s.speedOutside,
    ),
    trigger(
      'request withdrawn',
      'the controller no longer asks for the car',
      s.remote === null ? b.not(input('request')) : b.and(b.not(s.remote), b.not(input('request'))),
    ),
    trigger('button', 'the driver presses the button again', s.press),
  ];
}

/** What trips of the one that commands. */
function commanding(
  b: ProgramBuilder,
  f: GuardFigures,
  input: Inputs,
  s: Senses,
  trigger: (cause: string, text: string, holds: NodeId) => Trigger,
  command: Trigger,
): Trigger[] {
  if (f.remote === null || s.remote === null) return [command];
  const { ageSteps, speedMax } = f.remote;
  const old = b.lt(b.const(ageSteps), input('remote_age'));
  return [
    {
      ...command,
      text: `the controller commands and ${command.text}`,
      holds: b.and(b.not(s.remote), command.holds),
    },
    trigger(
      'remote lost',
      `the remote commands and its link is down, or something of its receiver has been missing for ${ageSteps + 1} steps (at most ${(ageSteps + 2) * f.spacingMaxMs} ms)`,
      b.and(s.remote, b.or(old, b.not(input('remote_link')))),
    ),
    trigger(
      'remote too fast',
      `the remote commands and the speed is above ${speedMax / 100} m/s`,
      b.and(s.remote, b.lt(b.const(speedMax), input('speed'))),
    ),
    trigger(
      'remote switched',
      'the remote is selected while the controller commands, or no longer while it commands itself',
      b.not(b.eq(s.remote, input('remote_selected'))),
    ),
  ];
}
