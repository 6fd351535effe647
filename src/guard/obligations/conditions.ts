/** The arming conditions, in the observer's own reading of the inputs. */
import type { ProgramBuilder } from '../../logic/builder.ts';
import type { NodeId } from '../../logic/form.ts';
import type { GuardFigures } from '../figures.ts';
import { names } from '../inputs.ts';
import type { Inputs } from '../program/inputs.ts';
import type { ChannelWatch } from './channelWatch.ts';
import { commandFor } from './remote.ts';
import type { Senses } from './senses.ts';
import { amount, slug } from './words.ts';

export interface Condition {
  name: string;
  /** "the command is at most 6 steps old". */
  text: string;
  holds: NodeId;
}

export function conditionsOf(
  b: ProgramBuilder,
  f: GuardFigures,
  input: Inputs,
  s: Senses,
  channels: readonly ChannelWatch[],
): Condition[] {
  const fresh = (name: string, what: string, age: string, steps: number): Condition => ({
    name: `${name}-fresh`,
    text: `${what} last came at most ${steps} step${steps === 1 ? '' : 's'} ago`,
    holds: b.not(b.lt(b.const(steps), input(age))),
  });
  const sensor = (name: string, what: string, age: string) => fresh(name, what, age, f.sensorAgeSteps);
  const measured = channels.filter(({ c }) => c.near !== null);
  return [
    ...asked(b, f, input, s, fresh('command', 'every command', 'command_age', f.commandAgeSteps)),
    sensor('speed', 'the speed', 'speed_age'),
    ...measured.flatMap(({ c, level }): Condition[] => {
      const value = input(names(c.key).measured);
      const difference = b.sub(commandFor(b, f, c, input, s.remote), value);
      const near = c.near as number;
      return [
        sensor(`${c.key}-measured`, `the measured ${c.key}`, names(c.key).measuredAge),
        {
          name: `${c.key}-near`,
          text: `commanded and measured ${c.key} differ by less than ${amount(near, c)}`,
          holds: b.and(b.lt(difference, b.const(near)), b.lt(b.const(-near), difference)),
        },
        {
          name: `${c.key}-level`,
          text: `the measured ${c.key} is within the level`,
          holds: b.not(b.lt(level, b.abs(value))),
        },
      ];
    }),
    ...channels.flatMap(({ c, within }): Condition[] => {
      if (c.path === null || within === null) return [];
      const path = input(names(c.key).path);
      const away = b.sub(input(names(c.key).measured), path);
      const near = b.and(b.not(b.lt(within, away)), b.not(b.lt(within, b.sub(b.const(0), away))));
      return [
        sensor(`${c.key}-path`, `the ${c.key} of the road ahead`, names(c.key).pathAge),
        {
          name: `${c.key}-on-path`,
          text: `the measured ${c.key} is as near to that of the road ahead as the order must stay${s.remote === null ? '' : ', or the remote is selected'}`,
          holds: s.remote === null ? near : b.or(s.remote, near),
        },
      ];
    }),
    ...(f.torque && s.hands
      ? [
          sensor('torque', "the driver's torque", 'torque_age'),
          {
            name: 'hands',
            text: `the driver's torque is below ${f.torque.at / 100} N·m`,
            holds: b.not(s.hands.now),
          },
        ]
      : []),
    ...f.acts.flatMap(({ key, label }, i): Condition[] => [
      sensor(slug(label), `what tells of the driver's ${label}`, `${key}_age`),
      { name: `act-${slug(label)}`, text: `the driver does not act: ${label}`, holds: b.not(s.acts[i]!.now) },
    ]),
    ...f.agreement.flatMap((a, i): Condition[] => [
      sensor(slug(a.label), `each of the measurements ${a.label}`, `${a.key}_age`),
      {
        name: `agree-${slug(a.label)}`,
        text: `${a.label} differ by at most ${amount(a.differBy, a)}`,
        holds: b.not(s.apart[i]!.now),
      },
    ]),
    ...(f.supply && s.supply
      ? [
          sensor('supply', 'the supply voltage', 'supply_age'),
          {
            name: 'supply',
            text: `the supply is ${f.supply.low / 1000} … ${f.supply.high / 1000} V`,
            holds: b.not(s.supply.now),
          },
        ]
      : []),
    {
      name: 'speed',
      text: `the speed is at most ${f.speedMax / 100} m/s and has not risen faster than a car can by more than ${f.speedLead / 100} m/s`,
      holds: b.not(s.speedOutside),
    },
    {
      name: 'spacing',
      text: `this step came ${f.spacingMinMs} … ${f.spacingMaxMs} ms after the last`,
      holds: s.spacingOk,
    },
    { name: 'stop', text: 'the stop input is off', holds: b.not(input('stop_input')) },
  ];
}

/** What must hold of the one that commands. */
function asked(
  b: ProgramBuilder,
  f: GuardFigures,
  input: Inputs,
  s: Senses,
  command: Condition,
): Condition[] {
  const request = { name: 'request', text: 'the controller asks for the car', holds: input('request') };
  if (f.remote === null || s.remote === null) return [request, command];
  const { ageSteps, speedMax } = f.remote;
  const unlessRemote = (c: Condition): Condition => ({
    ...c,
    text: `${c.text}, or the remote is selected`,
    holds: b.or(s.remote as NodeId, c.holds),
  });
  const ifRemote = (name: string, text: string, holds: NodeId): Condition => ({
    name,
    text: `the remote is not selected, or ${text}`,
    holds: b.or(b.not(s.remote as NodeId), holds),
  });
  const old = b.lt(b.const(ageSteps), input('remote_age'));
  return [
    unlessRemote(request),
    unlessRemote(command),
    ifRemote(
      'remote-link',
      `its link stands and all of its receiver last came at most ${ageSteps} steps ago`,
      b.and(input('remote_link'), b.not(old)),
    ),
    ifRemote(
      'remote-slow',
      `the speed is at most ${speedMax / 100} m/s`,
      b.not(b.lt(b.const(speedMax), input('speed'))),
    ),
  ];
}
