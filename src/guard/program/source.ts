/** Who commands: the controller, or the radio remote in its place. */
import type { ProgramBuilder } from '../../logic/builder.ts';
import type { NodeId } from '../../logic/form.ts';
import type { ChannelFigures, GuardFigures } from '../figures.ts';
import { names } from '../inputs.ts';
import type { Inputs } from './inputs.ts';

export interface Source {
  /** What must be fresh of the one that commands, by cause. */
  fresh: [cause: string, holds: NodeId][];
  /** What must hold while the remote commands, by cause; empty without a remote. */
  trips: [cause: string, holds: NodeId][];
  /** It asks for the car. */
  request: NodeId;
  /** The remote commands; null without a remote. At rest the switch decides, afterwards what it said when the guard armed. */
  remote: NodeId | null;
}

export function sourceOf(b: ProgramBuilder, f: GuardFigures, input: Inputs, resting: NodeId): Source {
  const fresh = b.named('command_fresh', b.le(input('command_age'), b.const(f.commandAgeSteps)));
  if (f.remote === null)
    return {
      fresh: [['command lost', fresh]],
      trips: [],
      request: input('request'),
      remote: null,
    };
  const held = b.stateBool('remote_held', false, 'the remote commands');
  const remote = b.named('remote_commands', b.select(resting, input('remote_selected'), held));
  b.next(held, remote);
  const standing = b.named(
    'remote_stands',
    b.and(input('remote_link'), b.le(input('remote_age'), b.const(f.remote.ageSteps))),
  );
  const slow = b.le(input('speed'), b.const(f.remote.speedMax));
  return {
    fresh: [
      ['command lost', b.or(remote, fresh)],
      ['remote lost', b.or(b.not(remote), standing)],
    ],
    trips: [
      ['remote too fast', b.and(remote, b.not(slow))],
      ['remote switched', b.not(b.eq(input('remote_selected'), remote))],
    ],
    request: b.or(remote, input('request')),
    remote,
  };
}

/** The command of a channel from the one that commands. */
export function commandOf(
  b: ProgramBuilder,
  c: ChannelFigures,
  input: Inputs,
  remote: NodeId | null,
): NodeId {
  const controller = input(names(c.key).command);
  if (remote === null) return controller;
  return b.select(remote, c.remote ? input(names(c.key).remote) : b.const(0), controller);
}

/** Level and slew of a channel at a speed, for the one that commands. */
export function limitsAt(
  b: ProgramBuilder,
  c: ChannelFigures,
  speed: NodeId,
  remote: NodeId | null,
): { level: NodeId; slew: NodeId } {
  const level = b.table(speed, `${c.key}_level`, c.level);
  const slew = b.table(speed, `${c.key}_slew`, c.slew);
  if (remote === null) return { level, slew };
  const least = c.remote ?? { level: 0, slew: 0 };
  return {
    level: b.select(remote, b.const(least.level), level),
    slew: b.select(remote, b.const(least.slew), slew),
  };
}
