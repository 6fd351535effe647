/**
 * The plan's figures as the obligations understand them: worked out here once more from the plan, in whole
 * micro-units, and not taken from the guard. A test holds both against each other for random plans.
 */
import { tableAt } from '../budget/interpolate.ts';
import { type ChannelPlan, channelPlans } from '../channels/plan.ts';
import {
  type ChannelFigures,
  type GuardFigures,
  SPEED_FOLLOW_MPS2,
  SPEED_LEAD_MPS,
  watchedKeys,
} from '../figures.ts';
import type { GuardPlan } from '../model.ts';

const MICRO = 1_000_000;
const BUTTON_UP_MS = 50;
const BUTTON_DOWN_MS = 30;
/** Counts per unit: thousandths where a hundredth would be coarse. */
const fine = new Set(['m/s²', 'V']);

export function specFigures(plan: GuardPlan, stepMs: number): GuardFigures {
  const { handover: h, budget } = plan;
  const tolerance = stepMs < 5 ? 1 : Math.floor(stepMs / 5);
  const shortest = Math.max(stepMs - tolerance, 1);
  const longest = stepMs + tolerance;
  const steps = (ms: number) => Math.floor(micro(ms) / (longest * MICRO));
  const whole = (ms: number) => Math.max(steps(ms), 1);
  const lasting = (ms: number) => 1 + Math.ceil(micro(ms) / (shortest * MICRO));
  const age = (ms: number) => Math.min(1022, Math.max(steps(ms) - 2, 0));
  const channels = channelPlans(plan);
  const keys = watchedKeys(plan);
  const down = lasting(BUTTON_DOWN_MS);
  const tables = channels.flatMap((c) => [...c.level, ...c.slew]);
  return {
    stepMs,
    spacingMinMs: shortest,
    spacingMaxMs: longest,
    speedFollow: Math.ceil((SPEED_FOLLOW_MPS2 * 100 * longest) / 1000),
    speedInit: tables.reduce((most, [v]) => Math.max(most, speeds(v)), 0),
    speedMax: counts(budget.speedMaxMps, 'm/s'),
    speedLead: SPEED_LEAD_MPS * 100,
    commandAgeSteps: age(h.commandAgeMs),
    sensorAgeSteps: age(h.sensorAgeMs),
    releaseSteps: whole(h.releaseMs),
    armHoldSteps: Math.max(lasting(h.armHoldMs), down + 1),
    buttonUpSteps: lasting(BUTTON_UP_MS),
    buttonDownSteps: down,
    torque:
      h.driverTorque === undefined
        ? null
        : { at: Math.max(counts(h.driverTorque.atNm, 'N·m'), 1), steps: whole(h.driverTorque.forMs) },
    acts: h.driverActs.map((act, i) => ({
      key: keys.acts[i] as string,
      label: act.name,
      steps: whole(act.forMs),
    })),
    agreement: h.agreement.map((pair, i) => ({
      key: keys.agreement[i] as string,
      label: pair.name,
      unit: pair.unit,
      perCount: fine.has(pair.unit) ? 0.001 : 0.01,
      differBy: counts(pair.differBy, pair.unit),
      steps: whole(pair.forMs),
    })),
    supply:
      h.supply === undefined
        ? null
        : {
            low: -Math.floor((-micro(h.supply.lowV) * 1000) / MICRO),
            high: counts(h.supply.highV, 'V'),
            steps: whole(h.supply.forMs),
          },
    remote:
      plan.remote === undefined
        ? null
        : {
            ageSteps: age(plan.remote.ageMs),
            speedMax: counts(plan.remote.speedMaxMps, 'm/s'),
          },
    channels: channels.map((c) => channel(c, shortest, longest, plan.remote)),
  };
}

function channel(
  c: ChannelPlan,
  shortest: number,
  longest: number,
  remote: GuardPlan['remote'],
): ChannelFigures {
  const level: [number, number][] = c.level.map(([v, y]) => [speeds(v), counts(y, c.unit)]);
  const perUnit = fine.has(c.unit) ? 1000 : 100;
  const slew: [number, number][] = c.slew.map(([v, y]) => [
    speeds(v),
    Math.floor((micro(y) * perUnit * shortest) / (1000 * MICRO)),
  ]);
  return {
    key: c.key,
    unit: c.unit,
    perCount: 1 / perUnit,
    sides: c.key === 'steering' ? 'both' : 'one',
    reach: c.reach * perUnit,
    level,
    slew,
    levelMax: level.reduce((most, [, y]) => Math.max(most, y), 0),
    letsGo: c.key === 'drive' ? 'at once' : 'evenly',
    path:
      c.path === null
        ? null
        : path(
            c.path.within.map(([v, y]) => [speeds(v), counts(y, c.unit)]),
            slew,
            longest,
          ),
    near: c.measured === null ? null : counts(c.measured.near, c.unit),
    tracks: c.tracks.map((t) => ({ restMv: millivolts(t.restV), fullMv: millivolts(t.fullV) })),
    remote:
      c.remote === null || remote === undefined
        ? null
        : { level: remoteLeast(level, remote), slew: Math.max(remoteLeast(slew, remote), 1) },
    windowMv: c.windowV === null ? 0 : counts(c.windowV, 'V'),
  };
}

/** The band narrows at most as its steepest piece does while the speed that tables are read at rises as fast as it may. */
function path(within: [number, number][], slew: [number, number][], longest: number): ChannelFigures['path'] {
  const rise = Math.ceil((SPEED_FOLLOW_MPS2 * 100 * longest) / 1000);
  let most = 0;
  for (let i = 1; i < within.length; i++) {
    const [a, b] = [within[i - 1]!, within[i]!];
    most = Math.max(most, 1 + Math.max(0, Math.ceil(((a[1] - b[1]) * rise) / (b[0] - a[0]))));
  }
  const slowest = slew.reduce((least, [, y]) => Math.min(least, y), Number.POSITIVE_INFINITY);
  return { within, follow: Math.max(slowest - most, 1) };
}

/** Of every table value at a speed that the remote may have, in hundredths of m/s, the least; of that its share. */
function remoteLeast(points: [number, number][], remote: NonNullable<GuardPlan['remote']>): number {
  let least = Number.POSITIVE_INFINITY;
  for (let v = 0; v <= counts(remote.speedMaxMps, 'm/s'); v++) least = Math.min(least, tableAt(points, v));
  return Math.floor((Math.floor(remote.sharePercent) * least) / 100);
}

function counts(value: number, unit: string): number {
  return Math.floor((micro(value) * (fine.has(unit) ? 1000 : 100)) / MICRO);
}

function speeds(value: number): number {
  return Math.round((micro(value) * 100) / MICRO);
}

function millivolts(value: number): number {
  return Math.round(micro(value) / 1000);
}

function micro(value: number): number {
  return Math.round(value * MICRO);
}
