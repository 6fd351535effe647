/**
 * A directed driver for the guard's inputs: it waits for what the guard shows, presses the button as a person would,
 * and then lets one thing go wrong, often exactly at a limit. Blind random inputs would almost never arm.
 */
import { makeTable, tableValue } from '../../logic/table.ts';
import { speedHi } from '../counts.ts';
import { AGE_MAX, type ChannelFigures, fadeLadder, type GuardFigures } from '../figures.ts';
import { guardInputs, measuredChannels, names, pathChannels } from '../inputs.ts';
import type { Random } from './random.ts';

/** What the guard showed in the last step. */
export interface Shown {
  mode: number;
}

export interface Scenario {
  /** Long enough to arm, do wrong, let go, acknowledge and arm again. */
  steps: number;
  /** Gives the inputs of the next step, in the order of `guardInputs`, into `inputs`. */
  next(shown: Shown, inputs: Float64Array): void;
}

export function scenario(f: GuardFigures, random: Random): Scenario {
  const { below, pick, chance } = random;
  const at = new Map([...guardInputs(f).keys()].map((name, i) => [name, i]));
  const near = f.speedMax - f.speedLead - 2 * f.speedFollow;
  const points = f.channels.flatMap((c) => c.level.map((p) => p[0]));
  const speeds = [0, below(f.speedMax + 1), f.speedMax, near, near - below(200), ...points];
  let clock = chance(0.4) ? 2 ** 32 - below(8 * f.stepMs * f.armHoldSteps) : below(2 ** 32);
  let speed = Math.max(0, Math.min(f.speedMax, pick(speeds)));
  let followed = f.speedInit;
  const calm = {
    spacing: pick([f.stepMs, f.stepMs, f.spacingMinMs, f.spacingMaxMs]),
    age: pick([0, 0, f.commandAgeSteps, f.sensorAgeSteps]),
    slope: pick([0, 0, 1, -1, f.speedFollow, -f.speedFollow, f.speedFollow + 1]),
    ...calmWatches(f, random),
  };
  if (chance(0.1)) speed = f.speedMax + 1;
  const byRemote = f.remote !== null && chance(0.4);
  if (byRemote) speed = Math.min(speed, pick([0, f.remote!.speedMax, below(f.remote!.speedMax + 1)]));
  const movers = f.channels.map((c) => mover(f, c, random));
  // Some runs have to go far before something goes wrong.
  const patience = pick([0.03, 0.03, 0.006]);
  let wrong: Wrong | null = null;
  // Sometimes one thing is wrong from the start and for longer than the conditions must hold.
  if (chance(0.15)) wrong = { ...goWrong(f, random), left: 2 * f.armHoldSteps + below(400), stays: true };
  const plan: number[] = chance(0.2) ? run(1, below(2 * f.buttonDownSteps + 40)) : [];

  function press(): number[] {
    const up = f.buttonUpSteps + pick([-1, 0, 0, 0, 1, 5]);
    const down = f.buttonDownSteps + pick([-1, 0, 0, 0, 1, 3, 30]);
    const bounce = chance(0.2) ? [1, 0] : [];
    const again = chance(0.3) ? [...run(0, f.buttonUpSteps - below(2)), ...run(1, f.buttonDownSteps)] : [];
    return [...run(0, up), ...bounce, ...run(1, down), ...again, 0];
  }

  function button(likely: number): number {
    if (plan.length === 0 && chance(likely)) plan.push(...press());
    const value = plan.shift() ?? 0;
    return chance(0.002) ? 1 - value : value;
  }

  const slowing = Math.ceil((f.speedInit - speed) / f.speedFollow);
  const once = f.armHoldSteps + f.releaseSteps + 4 * (f.buttonUpSteps + f.buttonDownSteps) + 60;
  const steps = Math.min(4000, 2 * once + Math.max(0, slowing));

  function next(shown: Shown, inputs: Float64Array): void {
    const armed = shown.mode === 2;
    if (armed && (wrong === null || wrong.left <= 0) && chance(patience)) wrong = goWrong(f, random);
    if (!armed && wrong !== null && (wrong.left <= 0 || (!wrong.stays && chance(0.02)))) wrong = null;
    const now = wrong !== null && wrong.left-- > 0 ? wrong : CALM;
    const set = (name: string, value: number) => {
      const index = at.get(name);
      if (index !== undefined) inputs[index] = value;
    };

    clock = (clock + (now.spacing ?? calm.spacing)) % 2 ** 32;
    if (armed) speed = Math.max(0, Math.min(f.speedMax, speed + (chance(0.5) ? calm.slope : 0)));
    const measured = Math.min(speedHi, speed + (now.speed ?? 0));
    followed = Math.max(followed - f.speedFollow, Math.min(followed + f.speedFollow, measured));

    for (const [name] of at) if (name.endsWith('_age')) set(name, Math.min(calm.age, f.sensorAgeSteps));
    set('command_age', Math.min(calm.age, f.commandAgeSteps));
    set('remote_age', Math.min(calm.age, f.remote?.ageSteps ?? 0));
    set('remote_link', 1);
    set('remote_selected', byRemote ? 1 : 0);
    for (const [i, c] of f.channels.entries()) {
      const moved = movers[i]!(armed, followed);
      set(names(c.key).command, Math.max(-c.reach, Math.min(c.reach, moved.command)));
      set(names(c.key).remote, byRemote ? Math.max(-c.reach, Math.min(c.reach, moved.command)) : 0);
      set(names(c.key).measured, moved.measured);
      set(names(c.key).path, moved.path);
    }
    set('request', chance(0.001) ? 0 : 1);
    set('speed', measured);
    for (const [name, value] of calm.values) set(name, value);
    for (const [name, value] of Object.entries(now.inputs ?? {})) set(name, value);
    set('arm_input', button(now.press === true ? 1 : (PRESS[shown.mode] as number)));
    set('stop_input', now.inputs?.stop_input ?? (chance(0.0005) ? 1 : 0));
    set('clock_ms', clock);
  }
  return { steps, next };
}

function run(value: number, steps: number): number[] {
  return new Array<number>(Math.max(0, steps)).fill(value);
}

/** One thing that goes wrong, for `left` steps. */
interface Wrong {
  left: number;
  /** It goes on although the guard is not armed. */
  stays?: boolean;
  spacing?: number;
  /** Added to the speed. */
  speed?: number;
  press?: boolean;
  /** Inputs by name. */
  inputs?: Record<string, number>;
}

const CALM: Wrong = { left: 0 };
const FAR = 1_000_000;
/** How often the button is begun to be pressed, by mode. */
const PRESS = [0.01, 0.2, 0.003, 0.03, 0.05];

/** What the driver, the comparisons and the supply do while nothing is wrong: often one count inside a limit. */
function calmWatches(f: GuardFigures, { pick, below }: Random): { values: [string, number][] } {
  const values: [string, number][] = [];
  if (f.torque) {
    const { at } = f.torque;
    values.push(['driver_torque', pick([0, 0, at - 1, 1 - at, below(at)])]);
  }
  for (const { key } of f.acts) values.push([key, 0]);
  for (const { key, differBy } of f.agreement) {
    const first = below(2000);
    values.push([`${key}_first`, first]);
    values.push([`${key}_second`, first + pick([0, 0, differBy, -differBy, below(differBy + 1)])]);
  }
  if (f.supply)
    values.push(['supply', pick([f.supply.low, f.supply.high, (f.supply.low + f.supply.high) >> 1])]);
  return { values };
}

/** How a channel's command, and what is measured of it, go in one run. */
function mover(
  f: GuardFigures,
  c: ChannelFigures,
  random: Random,
): (armed: boolean, followed: number) => { command: number; measured: number; path: number } {
  const { pick, below, chance, between } = random;
  const level = makeTable('level', c.level);
  const top = c.slew.map((p) => p[1]);
  const rungs = fadeLadder(c.levelMax, f.releaseSteps).map((step) => step * f.releaseSteps);
  const reachable = (limit: number) => [limit, ...rungs.filter((rung) => rung <= limit)];
  const style = pick(['jump', 'jump', 'far', 'drift', 'still', 'rung', 'rung', 'off'] as const);
  const place = pick(['centre', 'centre', 'inside', 'level', '-level', 'outside'] as const);
  const apart = c.near ?? 1;
  const offset = pick([0, 0, apart - 1, 1 - apart, apart, -apart, below(apart)]);
  let target = 0;
  const within = c.path && makeTable('within', c.path.within);
  const edge = pick([0, 0, 1, -1, 2]);
  /** On the path, or exactly as far from it as may be, or one count further. */
  const pathOffset = (band: number) => (edge === 2 ? band + 1 : edge * band);
  let path = 0;
  return (armed, followed) => {
    const limit = tableValue(level, followed);
    const measured = placed(place, limit, random);
    if (style === 'jump' && chance(0.1)) target = pick([0, limit, -limit, 10 * limit, below(400) - 200]);
    if (style === 'far') target = chance(0.02) ? -FAR : FAR;
    if (style === 'rung' && chance(0.008))
      target = pick([1, -1]) * (pick(reachable(limit)) + pick([-1, 0, 1]));
    if (style === 'drift') target += between(-60, 60) + pick([0, 0, pick(top)]);
    const band = within === null ? 0 : tableValue(within, followed);
    if (!armed) path = measured + pathOffset(band);
    else if (chance(0.03)) path = pick([0, target, target - band, target + band, between(-limit, limit)]);
    const command = armed || c.near === null ? target : measured + offset;
    return { command, measured, path: Math.max(-c.reach, Math.min(c.reach, path)) };
  };
}

function goWrong(f: GuardFigures, { pick, below }: Random): Wrong {
  const late = (limit: number) => pick([limit, limit + 1, limit + 1, AGE_MAX]);
  const lost = (age: string, limit = f.sensorAgeSteps): Kind => ({ inputs: { [age]: late(limit) } });
  const lead = f.speedLead;
  const made: Kind[] = [
    { spacing: pick([0, f.spacingMinMs - 1, f.spacingMaxMs + 1, 1000, below(100)]) },
    { speed: pick([lead - 1, lead, lead + f.speedFollow, lead + f.speedFollow + 1, 5000]) },
    { inputs: { request: 0 } },
    lost('command_age', f.commandAgeSteps),
    lost('speed_age'),
    ...measuredChannels(f).map((c) => lost(names(c.key).measuredAge)),
    ...pathChannels(f).map((c) => lost(names(c.key).pathAge)),
    { press: true },
    { inputs: { stop_input: 1 } },
  ];
  if (f.torque) {
    const { at, steps } = f.torque;
    const hands = { inputs: { driver_torque: pick([at, -at, 2 * at, at - 1]) }, counted: steps };
    made.push(lost('torque_age'), hands, hands);
  }
  for (const { key, steps } of f.acts)
    made.push({ inputs: { [key]: 1 }, counted: steps }, lost(`${key}_age`));
  for (const { key, differBy, steps } of f.agreement) {
    const first = below(2000);
    const by = pick([differBy + 1, differBy, differBy + 1, -differBy, -differBy - 1, 5000]);
    const apart = { [`${key}_first`]: first, [`${key}_second`]: first + by };
    made.push({ inputs: apart, counted: steps }, lost(`${key}_age`));
  }
  if (f.remote) {
    const { speedMax } = f.remote;
    const switched = { inputs: { remote_selected: pick([0, 1]) } };
    made.push(switched, { inputs: { remote_link: 0 } }, lost('remote_age', f.remote.ageSteps));
    made.push({ inputs: { speed: pick([speedMax, speedMax + 1]) } });
  }
  if (f.supply) {
    const { low, high, steps } = f.supply;
    made.push({ inputs: { supply: pick([low - 1, high + 1, low, 0]) }, counted: steps }, lost('supply_age'));
  }
  const { counted = f.sensorAgeSteps, ...wrong } = pick(made);
  const left = pick([1, 2, counted - 1, counted, counted + 1, 3 * f.releaseSteps]);
  if (pick([0, 0, 0, 1]) === 0) return { left, ...wrong };
  const { counted: _, ...more } = pick(made);
  return { left, ...wrong, ...more, inputs: { ...wrong.inputs, ...more.inputs } };
}

/** What goes wrong, before it is said for how long; `counted`: the guard lets it last for this many steps. */
type Kind = Omit<Wrong, 'left'> & { counted?: number };

function placed(style: string, limit: number, { below }: Random): number {
  switch (style) {
    case 'inside':
      return below(2 * limit + 1) - limit;
    case 'level':
      return limit;
    case '-level':
      return -limit;
    case 'outside':
      return limit + 1;
    default:
      return 0;
  }
}
