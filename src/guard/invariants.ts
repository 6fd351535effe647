/**
 * What holds between the guard's states and the observer's counts in every reachable step. These statements are no
 * obligations: they help the proof by shutting out states that no run reaches, and are themselves proved with it.
 */
import { ProgramBuilder } from '../logic/builder.ts';
import type { NodeId, Program } from '../logic/form.ts';
import { type ChannelFigures, fadeLadder, type GuardFigures, type Points } from './figures.ts';
import { causeNumber, causes, type Mode, modeNumber, pathChannels } from './inputs.ts';
import { sinceName } from './obligations/release.ts';

/** A program whose inputs are states of the guard with its observer, and whose outputs are the statements. */
export function guardInvariants(observed: Program, f: GuardFigures): Program {
  const b = new ProgramBuilder('guard_invariants', 'Helps the proof of the guard.');
  const of = stateInputs(b, observed);
  const mode = (name: Mode) => b.eq(of('mode_held'), b.const(modeNumber(name)));
  const implies = (when: NodeId, must: NodeId) => b.or(b.not(when), must);
  const state = (name: string, statement: NodeId) => b.output(`holds_${name}`, statement);

  for (const [seen, held] of same(f)) state(`same_${seen}`, b.eq(of(seen), of(held)));
  state('same_seen_clock', b.eq(b.clockSub(of('seen_clock'), of('clock_held'), 1), b.const(0)));

  const zeros = f.channels.map((c) => b.eq(of(`${c.key}_held`), b.const(0)));
  const zero = zeros.reduce((x, y) => b.and(x, y));
  const letting = b.or(mode('releasing'), mode('tripped'));
  const out = b.and(letting, b.not(zero));
  const rest = b.or(mode('idle'), mode('ready'));
  f.channels.forEach((c, i) => {
    const channelZero = zeros[i] as NodeId;
    state(
      `same_last_${c.key}_active`,
      b.eq(of(`last_${c.key}_active`), b.or(mode('armed'), b.not(channelZero))),
    );
    state(`rest_${c.key}`, implies(c.letsGo === 'at once' ? b.not(mode('armed')) : rest, channelZero));
    state(`level_${c.key}`, b.le(b.abs(of(`${c.key}_held`)), levelOf(c)));
    if (c.path) nearPath(c, c.path.within);
    if (c.letsGo === 'evenly') fading(c, b.and(letting, b.not(channelZero)));
  });
  state('cause_armed', implies(mode('armed'), b.eq(of('cause_held'), b.const(0))));
  const firstTrip = causes(f).findIndex((c) => c.kind === 'trip');
  state('cause_tripped', implies(mode('tripped'), b.le(b.const(firstTrip), of('cause_held'))));
  state('fade_left', implies(out, b.le(b.const(1), of('fade_left'))));
  for (const cause of causes(f).filter((c) => c.kind !== 'none')) {
    const since = of(sinceName(causeNumber(f, cause.name)));
    const sum = b.le(b.add(since, of('fade_left')), b.const(f.releaseSteps));
    state(`since_${causeNumber(f, cause.name)}`, implies(b.le(b.const(1), since), b.and(out, sum)));
  }

  const pressed = b.eq(of('button_down_steps'), b.const(f.buttonDownSteps));
  const kept = b.or(pressed, b.le(of('hold_steps'), of('button_down_steps')));
  state('press_used', b.not(b.and(of('button_seen_up'), pressed)));
  state('let_go', implies(b.and(b.not(of('seen_let_go')), b.not(mode('armed'))), kept));
  return b.finish();

  function nearPath(c: ChannelFigures, points: Points): void {
    const [order, path] = [of(`${c.key}_held`), of(`${c.key}_path_held`)];
    const within = b.table(of('speed_followed'), 'within', points);
    const armed = f.remote === null ? mode('armed') : b.and(mode('armed'), b.not(of('remote_held')));
    const zero = b.const(0);
    state(
      `path_${c.key}`,
      implies(
        armed,
        b.and(b.le(order, b.max(b.add(path, within), zero)), b.le(b.min(b.sub(path, within), zero), order)),
      ),
    );
  }

  function levelOf(c: ChannelFigures): NodeId {
    const own = b.table(of('speed_followed'), 'level', c.level);
    if (f.remote === null) return own;
    const theirs = b.const(c.remote?.level ?? 0);
    return b.select(of('remote_held'), theirs, own);
  }

  function fading(c: ChannelFigures, going: NodeId): void {
    const [step, room] = [of(`seen_${c.key}_fade_step`), of(`seen_${c.key}_fade_room`)];
    const rungs = fadeLadder(c.levelMax, f.releaseSteps).map((rung) =>
      b.and(b.eq(of(`${c.key}_fade_step`), b.const(rung)), b.le(room, b.mulk(of('fade_left'), rung))),
    );
    state(`fade_${c.key}_step`, implies(going, b.eq(step, of(`${c.key}_fade_step`))));
    state(`fade_${c.key}_room`, implies(going, b.le(b.abs(of(`${c.key}_held`)), room)));
    state(
      `fade_${c.key}_steps_left`,
      implies(
        going,
        rungs.reduce((x, y) => b.or(x, y)),
      ),
    );
  }
}

/** States by name, as inputs of the program that is built. */
function stateInputs(b: ProgramBuilder, observed: Program): (name: string) => NodeId {
  const inputs = new Map<string, NodeId>();
  return (name) => {
    const known = inputs.get(name);
    if (known !== undefined) return known;
    const def = observed.states.find((s) => s.name === name);
    if (def === undefined) throw new RangeError(`there is no state ${name}`);
    const clock = def.hi === 2 ** 32 - 1;
    const id = clock
      ? b.inputClock(name)
      : def.type === 'bool'
        ? b.inputBool(name)
        : b.input(name, def.lo, def.hi);
    inputs.set(name, id);
    return id;
  };
}

/** Where the observer's counts and the guard's own agree: [observer's, guard's]. */
function same(f: GuardFigures): [string, string][] {
  return [
    ...f.channels.map((c): [string, string] => [`last_${c.key}_order`, `${c.key}_held`]),
    ...(f.remote ? [['seen_remote', 'remote_held'] as [string, string]] : []),
    ...pathChannels(f).map((c): [string, string] => [`seen_${c.key}_path`, `${c.key}_path_held`]),
    ['last_mode', 'mode_held'],
    ['last_cause', 'cause_held'],
    ['seen_speed', 'speed_followed'],
    ...(f.torque ? [['seen_torque_steps', 'override_steps'] as [string, string]] : []),
    ...[...f.acts, ...f.agreement].map(({ key }): [string, string] => [`seen_${key}_steps`, `${key}_steps`]),
    ...(f.supply ? [['seen_supply_steps', 'supply_steps'] as [string, string]] : []),
    ['seen_hold_steps', 'hold_steps'],
    ['seen_up_steps', 'button_up_steps'],
    ['seen_down_steps', 'button_down_steps'],
    ['seen_up', 'button_seen_up'],
    ['seen_clock_known', 'clock_seen'],
  ];
}
