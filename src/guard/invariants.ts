/**
 * What holds between the guard's states and the observer's counts in every reachable step. These statements are no
 * obligations: they help the proof by shutting out states that no run reaches, and are themselves proved with it.
 */
import { ProgramBuilder } from '../logic/builder.ts';
import type { NodeId, Program } from '../logic/form.ts';
import { fadeLadder, type SteeringFigures } from './figures.ts';
import { CAUSES, type Cause, causeNumber, type Mode, modeNumber } from './units.ts';

/** A program whose inputs are states of the guard with its observer, and whose outputs are the statements. */
export function steeringInvariants(observed: Program, f: SteeringFigures): Program {
  const b = new ProgramBuilder('steering_invariants', 'Helps the proof of the steering guard.');
  const inputs = new Map<string, NodeId>();
  const of = (name: string): NodeId => {
    const known = inputs.get(name);
    if (known !== undefined) return known;
    const def = observed.states.find((s) => s.name === name)!;
    const clock = def.hi === 2 ** 32 - 1;
    const id = clock
      ? b.inputClock(name)
      : def.type === 'bool'
        ? b.inputBool(name)
        : b.input(name, def.lo, def.hi);
    inputs.set(name, id);
    return id;
  };
  const mode = (name: Mode) => b.eq(of('mode_held'), b.const(modeNumber(name)));
  const implies = (when: NodeId, must: NodeId) => b.or(b.not(when), must);
  const state = (name: string, statement: NodeId) => b.output(`holds_${name}`, statement);

  for (const [seen, held] of SAME) state(`same_${seen}`, b.eq(of(seen), of(held)));
  state('same_seen_clock', b.eq(b.clockSub(of('seen_clock'), of('clock_held'), 1), b.const(0)));

  const zero = b.eq(of('order_held'), b.const(0));
  const size = b.abs(of('order_held'));
  const out = b.and(b.or(mode('releasing'), mode('tripped')), b.not(zero));
  state('same_last_active', b.eq(of('last_active'), b.or(mode('armed'), b.not(zero))));
  state('rest', implies(b.or(mode('idle'), mode('ready')), zero));
  state('level', b.le(size, b.table(of('speed_followed'), 'level', f.level)));
  state('cause_armed', implies(mode('armed'), b.eq(of('cause_held'), b.const(causeNumber('none')))));
  state(
    'cause_tripped',
    implies(mode('tripped'), b.le(b.const(causeNumber('command lost')), of('cause_held'))),
  );

  state('fade_left', implies(out, b.le(b.const(1), of('fade_left'))));
  const rungs = fadeLadder(f).map((step) =>
    b.and(b.eq(of('fade_step'), b.const(step)), b.le(of('seen_fade_room'), b.mulk(of('fade_left'), step))),
  );
  state('fade_step', implies(out, b.eq(of('seen_fade_step'), of('fade_step'))));
  state('fade_room', implies(out, b.le(size, of('seen_fade_room'))));
  state(
    'fade_steps_left',
    implies(
      out,
      rungs.reduce((x, y) => b.or(x, y)),
    ),
  );
  for (const cause of CAUSES.filter((c) => c !== 'none')) {
    const since = of(`since_${word(cause)}`);
    const sum = b.le(b.add(since, of('fade_left')), b.const(f.releaseSteps));
    state(`since_${word(cause)}`, implies(b.le(b.const(1), since), b.and(out, sum)));
  }

  const pressed = b.eq(of('button_down_steps'), b.const(f.buttonDownSteps));
  const kept = b.or(pressed, b.le(of('hold_steps'), of('button_down_steps')));
  state('press_used', b.not(b.and(of('button_seen_up'), pressed)));
  state('let_go', implies(b.and(b.not(of('seen_let_go')), b.not(mode('armed'))), kept));
  return b.finish();
}

/** The observer's counts and the guard's own agree. */
const SAME = [
  ['last_order', 'order_held'],
  ['last_mode', 'mode_held'],
  ['last_cause', 'cause_held'],
  ['seen_speed', 'speed_followed'],
  ['seen_torque_steps', 'override_steps'],
  ['seen_hold_steps', 'hold_steps'],
  ['seen_up_steps', 'button_up_steps'],
  ['seen_down_steps', 'button_down_steps'],
  ['seen_up', 'button_seen_up'],
  ['seen_clock_known', 'clock_seen'],
] as const;

function word(cause: Cause): string {
  return cause.replace(/ /g, '_');
}
