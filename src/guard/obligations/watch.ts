/**
 * What every obligation looks at: the guard's raw inputs, its outputs in this step and the last, and counts of the
 * observer's own. Nothing here reads a state of the guard.
 */
import type { ProgramBuilder } from '../../logic/builder.ts';
import type { NodeId } from '../../logic/form.ts';
import type { GuardFigures } from '../figures.ts';
import { type Cause, causes, type Mode, modeNumber } from '../inputs.ts';
import { declareInputs, type Inputs } from '../program/inputs.ts';
import { type ChannelWatch, channelWatch } from './channelWatch.ts';
import { type Condition, conditionsOf } from './conditions.ts';
import { countUp } from './countUp.ts';
import { senses } from './senses.ts';
import { type Trigger, triggersOf } from './triggers.ts';

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

export interface Watch {
  b: ProgramBuilder;
  f: GuardFigures;
  input: Inputs;
  now: { mode: NodeId; cause: NodeId };
  last: { mode: NodeId; cause: NodeId };
  channels: ChannelWatch[];
  nowIs(mode: Mode): NodeId;
  lastWas(mode: Mode): NodeId;
  causeIs(cause: Cause): NodeId;
  /** Some channel is, or was, to be followed; every order is, or was, zero. */
  activeNow: NodeId;
  activeLast: NodeId;
  zeroNow: NodeId;
  zeroLast: NodeId;
  triggers: Trigger[];
  conditions: Condition[];
  /** All conditions have held for the hold time, at rest. */
  held: NodeId;
  /** A press of the button counts in this step. */
  press: NodeId;
  /** The guard arms in this step. */
  arms: NodeId;
  spacingOk: NodeId;
  /** The remote commands in this step; null without one. */
  remote: NodeId | null;
}

export function watch(b: ProgramBuilder, f: GuardFigures): Watch {
  const input = declareInputs(b, f);
  const now = { mode: b.input('mode', 0, 15), cause: b.input('cause', 0, CAUSE_END) };
  const last = { mode: b.state('last_mode', 0, 15, 0), cause: b.state('last_cause', 0, CAUSE_END, 0) };
  b.next(last.mode, now.mode);
  b.next(last.cause, now.cause);
  const nowIs = (mode: Mode) => b.eq(now.mode, b.const(modeNumber(mode)));
  const lastWas = (mode: Mode) => b.eq(last.mode, b.const(modeNumber(mode)));
  const numbers = new Map(causes(f).map((c, i) => [c.name, i]));
  const resting = b.or(lastWas('idle'), lastWas('ready'));
  const s = senses(b, f, input, resting);
  const channels = f.channels.map((c) => channelWatch(b, c, s));
  const conditions = conditionsOf(b, f, input, s, channels);
  const all = conditions.map((c) => c.holds).reduce((x, y) => b.and(x, y));
  const held = countUp(b, 'seen_hold_steps', b.and(all, resting), f.armHoldSteps);
  const every = (list: NodeId[]) => list.reduce((x, y) => b.and(x, y));
  const some = (list: NodeId[]) => list.reduce((x, y) => b.or(x, y));
  const zero = (order: NodeId) => b.eq(order, b.const(0));
  return {
    b,
    f,
    input,
    now,
    last,
    channels,
    nowIs,
    lastWas,
    causeIs: ({ name }) => b.eq(now.cause, b.const(numbers.get(name) as number)),
    activeNow: some(channels.map((c) => c.now.active)),
    activeLast: some(channels.map((c) => c.last.active)),
    zeroNow: every(channels.map((c) => zero(c.now.order))),
    zeroLast: every(channels.map((c) => zero(c.last.order))),
    triggers: triggersOf(b, f, input, s),
    conditions,
    held,
    press: s.press,
    arms: b.and(nowIs('armed'), b.not(lastWas('armed'))),
    spacingOk: s.spacingOk,
    remote: s.remote,
  };
}

/** More than any guard has causes. */
const CAUSE_END = 63;
