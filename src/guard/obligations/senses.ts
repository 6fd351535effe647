/** The observer's own reading of speed, clock, button, driver, comparisons and supply. */
import { approach } from '../../logic/blocks.ts';
import type { ProgramBuilder } from '../../logic/builder.ts';
import type { NodeId } from '../../logic/form.ts';
import { speedHi } from '../counts.ts';
import type { GuardFigures } from '../figures.ts';
import type { Inputs } from '../program/inputs.ts';
import { countUp } from './countUp.ts';

export interface Senses {
  /** Speed that the tables are read at, 0.01 m/s. */
  speed: NodeId;
  /** The speed is higher than allowed, or has risen as no car's does. */
  speedOutside: NodeId;
  spacingOk: NodeId;
  /** The remote commands: at rest as the switch says, afterwards as it said when the guard armed; null without. */
  remote: NodeId | null;
  press: NodeId;
  /** The driver acts in this step, and has for long enough: the torque first where there is one, then `acts`. */
  hands: { now: NodeId; long: NodeId } | null;
  acts: { now: NodeId; long: NodeId }[];
  /** The measurements disagree in this step, and have for long enough. */
  apart: { now: NodeId; long: NodeId }[];
  /** The supply is outside its band. */
  supply: { now: NodeId; long: NodeId } | null;
}

/** `resting`: the guard showed idle or ready in the last step. */
export function senses(b: ProgramBuilder, f: GuardFigures, input: Inputs, resting: NodeId): Senses {
  const lasting = (name: string, now: NodeId, steps: number) => ({ now, long: countUp(b, name, now, steps) });
  const seenSpeed = b.state('seen_speed', 0, speedHi, f.speedInit);
  const speed = approach(b, seenSpeed, input('speed'), b.const(f.speedFollow));
  b.next(seenSpeed, speed);
  const fast = b.lt(b.const(f.speedMax), input('speed'));
  return {
    speed,
    speedOutside: b.or(fast, b.lt(b.const(f.speedLead), b.sub(input('speed'), speed))),
    spacingOk: evenSpacing(b, f, input),
    remote: f.remote ? remoteCommands(b, input, resting) : null,
    press: freshPress(b, f, input('arm_input')),
    hands: f.torque
      ? lasting(
          'seen_torque_steps',
          b.not(b.lt(b.abs(input('driver_torque')), b.const(f.torque.at))),
          f.torque.steps,
        )
      : null,
    acts: f.acts.map(({ key, steps }) => lasting(`seen_${key}_steps`, input(key), steps)),
    apart: f.agreement.map(({ key, differBy, steps }) => {
      const difference = b.sub(input(`${key}_first`), input(`${key}_second`));
      const high = b.lt(b.const(differBy), difference);
      return lasting(`seen_${key}_steps`, b.or(high, b.lt(difference, b.const(-differBy))), steps);
    }),
    supply: f.supply
      ? lasting(
          'seen_supply_steps',
          b.or(b.lt(input('supply'), b.const(f.supply.low)), b.lt(b.const(f.supply.high), input('supply'))),
          f.supply.steps,
        )
      : null,
  };
}

function evenSpacing(b: ProgramBuilder, f: GuardFigures, input: Inputs): NodeId {
  const seenClock = b.stateClock('seen_clock', 0);
  const clockKnown = b.stateBool('seen_clock_known', false);
  b.next(seenClock, input('clock_ms'));
  b.next(clockKnown, b.bool(true));
  const spacing = b.clockSub(input('clock_ms'), seenClock, 1_000_000);
  return b.and(
    clockKnown,
    b.not(b.lt(spacing, b.const(f.spacingMinMs))),
    b.not(b.lt(b.const(f.spacingMaxMs), spacing)),
  );
}

/** Away from rest the observer keeps what was selected in the step that left it. */
function remoteCommands(b: ProgramBuilder, input: Inputs, resting: NodeId): NodeId {
  const kept = b.stateBool('seen_remote', false);
  const now = b.select(resting, input('remote_selected'), kept);
  b.next(kept, now);
  return now;
}

/** A press: the button up for a time since the last press that counted, and now down for a time. */
function freshPress(b: ProgramBuilder, f: GuardFigures, arm: NodeId): NodeId {
  const up = countUp(b, 'seen_up_steps', b.not(arm), f.buttonUpSteps);
  const down = countUp(b, 'seen_down_steps', arm, f.buttonDownSteps);
  const before = b.stateBool('seen_up', false);
  const ready = b.or(before, up);
  const press = b.and(down, ready);
  b.next(before, b.and(ready, b.not(press)));
  return press;
}
