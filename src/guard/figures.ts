/**
 * The plan's figures in the guard's own integers: counts and steps. Every rounding goes to the cautious side, and every
 * time is turned into steps with the step spacing that is worst for it.
 */
import { NameScope } from '../bridge/names.ts';
import { tableAt } from './budget/interpolate.ts';
import { type ChannelKey, type ChannelPlan, channelPlans, type PlanPoints } from './channels/plan.ts';
import { perCount } from './counts.ts';
import type { GuardPlan } from './model.ts';

/** Points of a table over speed: [speed in 0.01 m/s, value in counts]. */
export type Points = [x: number, y: number][];

export interface ChannelFigures {
  key: ChannelKey;
  unit: string;
  /** Physical value of one count of command, order and level. */
  perCount: number;
  sides: 'both' | 'one';
  /** Commands are kept within this, either side of zero. */
  reach: number;
  /** Level over speed. */
  level: Points;
  /** Largest change of the order in one step, over speed. */
  slew: Points;
  /** Highest point of the level table. */
  levelMax: number;
  /** How the order goes to zero when the guard lets go: in equal steps over the release time, or in one. */
  letsGo: 'evenly' | 'at once';
  /** Arming only while command and measured value differ by less; null where the order starts at zero. */
  near: number | null;
  /** How far the order may be from the followed path over speed, and how far that moves in a step; null without a path. */
  path: { within: Points; follow: number } | null;
  /** Voltages that carry the order in mV; empty where a signal does. */
  tracks: { restMv: number; fullMv: number }[];
  /** Level and slew of the radio remote, at any speed that it may have; null where it has no command for this channel. */
  remote: { level: number; slew: number } | null;
  /** How far the second track may be from where the first says it belongs, mV. */
  windowMv: number;
}

/** Something that the driver does and that takes the car back. */
export interface ActFigures {
  /** Word for its input. */
  key: string;
  label: string;
  steps: number;
}

/** Two ways to measure the same quantity. */
export interface AgreementFigures {
  key: string;
  label: string;
  unit: string;
  perCount: number;
  differBy: number;
  steps: number;
}

export interface GuardFigures {
  stepMs: number;
  /** Step spacing that the guard accepts, by its own clock. */
  spacingMinMs: number;
  spacingMaxMs: number;
  /** Speed for the tables follows the measured speed by at most this much per step. */
  speedFollow: number;
  /** At first the guard takes the car to drive as fast as the tables go. */
  speedInit: number;
  /** Above this no arming, and a trip. */
  speedMax: number;
  /** The measured speed may be above the followed one by this much. */
  speedLead: number;
  commandAgeSteps: number;
  sensorAgeSteps: number;
  /** From the step in which a reason to release is seen to the step with zero orders, both counted. */
  releaseSteps: number;
  armHoldSteps: number;
  /** A press counts when the button was up for `buttonUpSteps` and then down for `buttonDownSteps`. */
  buttonUpSteps: number;
  buttonDownSteps: number;
  torque: { at: number; steps: number } | null;
  acts: ActFigures[];
  agreement: AgreementFigures[];
  /** Band of the supply in mV, ends included. */
  supply: { low: number; high: number; steps: number } | null;
  /** The radio remote in the place of the controller; null where the plan has none. */
  remote: { ageSteps: number; speedMax: number } | null;
  channels: ChannelFigures[];
}

/** The speed that the tables are read at follows the measured one as if the car gained or lost at least this much. */
export const SPEED_FOLLOW_MPS2 = 3;
/** A measured speed this far above the followed one has risen as no loaded van's does: the guard trips. */
export const SPEED_LEAD_MPS = 1;
/** Contacts bounce for some milliseconds; a press is a clear one. */
export const BUTTON_UP_MS = 50;
export const BUTTON_DOWN_MS = 30;
/** Ages count steps up to here and stay: "this long or never". */
export const AGE_MAX = 1023;

export function guardFigures(plan: GuardPlan, stepMs: number): GuardFigures {
  const h = plan.handover;
  const tolerance = Math.max(1, Math.floor(stepMs / 5));
  const spacingMinMs = Math.max(1, stepMs - tolerance);
  const spacingMaxMs = stepMs + tolerance;
  const within = (ms: number) => Math.floor(ms / spacingMaxMs + SLACK);
  const atLeast = (ms: number) => Math.ceil(ms / spacingMinMs - SLACK) + 1;
  const lasting = (ms: number) => Math.max(1, within(ms));
  const channels = channelPlans(plan);
  const speedFollow = Math.ceil((SPEED_FOLLOW_MPS2 * spacingMaxMs) / 1000 / 0.01 - SLACK);
  const keys = watchedKeys(plan);
  return {
    stepMs,
    spacingMinMs,
    spacingMaxMs,
    speedFollow,
    speedInit: Math.max(...channels.flatMap((c) => [...c.level, ...c.slew]).map(([v]) => speedCounts(v))),
    speedMax: down(plan.budget.speedMaxMps / 0.01),
    speedLead: SPEED_LEAD_MPS / 0.01,
    commandAgeSteps: ageSteps(within(h.commandAgeMs)),
    sensorAgeSteps: ageSteps(within(h.sensorAgeMs)),
    releaseSteps: lasting(h.releaseMs),
    armHoldSteps: Math.max(atLeast(BUTTON_DOWN_MS) + 1, atLeast(h.armHoldMs)),
    buttonUpSteps: atLeast(BUTTON_UP_MS),
    buttonDownSteps: atLeast(BUTTON_DOWN_MS),
    torque: h.driverTorque
      ? { at: Math.max(1, down(h.driverTorque.atNm / perCount('N·m'))), steps: lasting(h.driverTorque.forMs) }
      : null,
    acts: h.driverActs.map(({ name, forMs }, i) => ({
      key: keys.acts[i]!,
      label: name,
      steps: lasting(forMs),
    })),
    agreement: h.agreement.map(({ name, unit, differBy, forMs }, i) => ({
      key: keys.agreement[i]!,
      label: name,
      unit,
      perCount: perCount(unit),
      differBy: down(differBy / perCount(unit)),
      steps: lasting(forMs),
    })),
    supply: h.supply
      ? {
          low: Math.ceil(h.supply.lowV / perCount('V') - SLACK * 1e3),
          high: down(h.supply.highV / perCount('V')),
          steps: lasting(h.supply.forMs),
        }
      : null,
    remote: plan.remote
      ? {
          ageSteps: ageSteps(within(plan.remote.ageMs)),
          speedMax: down(plan.remote.speedMaxMps / 0.01),
        }
      : null,
    channels: channels.map((c) => channelFigures(c, spacingMinMs, speedFollow, plan.remote)),
  };
}

function channelFigures(
  c: ChannelPlan,
  spacingMinMs: number,
  speedFollow: number,
  remote: GuardPlan['remote'],
): ChannelFigures {
  const unit = perCount(c.unit);
  const level: Points = c.level.map(([v, y]) => [speedCounts(v), down(y / unit)]);
  const slew: Points = c.slew.map(([v, y]) => [speedCounts(v), down((y * spacingMinMs) / 1000 / unit)]);
  return {
    key: c.key,
    unit: c.unit,
    perCount: unit,
    sides: c.sides,
    reach: Math.round(c.reach / unit),
    level,
    slew,
    levelMax: Math.max(...level.map(([, y]) => y)),
    letsGo: c.key === 'drive' ? 'at once' : 'evenly',
    near: c.measured && down(c.measured.near / unit),
    path: c.path && pathFigures(c.path.within, slew, unit, speedFollow),
    tracks: c.tracks.map(({ restV, fullV }) => ({
      restMv: Math.round(restV * 1000),
      fullMv: Math.round(fullV * 1000),
    })),
    remote:
      c.remote && remote ? { level: shareOf(level, remote), slew: Math.max(1, shareOf(slew, remote)) } : null,
    windowMv: c.windowV === null ? 0 : down(c.windowV * 1000),
  };
}

/**
 * The path is followed so slowly that its band, wherever it goes and however it narrows with speed, never moves faster
 * than the order may: the least slew less what the band can lose in a step, and at least 1.
 */
function pathFigures(
  plan: PlanPoints,
  slew: Points,
  unit: number,
  speedFollow: number,
): { within: Points; follow: number } {
  const within: Points = plan.map(([v, y]) => [speedCounts(v), down(y / unit)]);
  const narrows = within.map(([v, y], i) => {
    const before = within[i - 1];
    return before ? Math.max(0, Math.ceil(((before[1] - y) * speedFollow) / (v - before[0]))) + 1 : 0;
  });
  const least = Math.min(...slew.map(([, y]) => y));
  return { within, follow: Math.max(1, least - Math.max(...narrows)) };
}

/** The remote's share of the least that a table allows up to the remote's highest speed. */
function shareOf(points: Points, remote: NonNullable<GuardPlan['remote']>): number {
  const fastest = down(remote.speedMaxMps / 0.01);
  const ends = [0, fastest].map((v) => tableAt(points, v));
  const within = points.filter(([v]) => v > 0 && v < fastest).map(([, y]) => y);
  return Math.floor((Math.min(...ends, ...within) * Math.floor(remote.sharePercent)) / 100);
}

/** Words for the inputs that the plan names freely, unique among themselves. */
export function watchedKeys(plan: GuardPlan): { acts: string[]; agreement: string[] } {
  const scope = new NameScope();
  const give = (kind: string) => (line: { name: string }) => scope.give(`${kind} ${line.name}`);
  return {
    acts: plan.handover.driverActs.map(give('act')),
    agreement: plan.handover.agreement.map(give('pair')),
  };
}

/**
 * Step sizes from which a release picks the smallest that reaches zero in time. A ladder of fixed sizes, each at most
 * half as large again as the one before, keeps every product in the guard and in its proof one by a constant.
 */
export function fadeLadder(levelMax: number, releaseSteps: number): number[] {
  const ladder = [1];
  for (let step = 1; step * releaseSteps < levelMax; ladder.push(step))
    step = Math.max(step + 1, Math.floor(step * FADE_RATIO));
  return ladder;
}

export const FADE_RATIO = 1.5;

/**
 * Greatest age that is still used. A frame of age n came n to n + 1 steps before, so the step that finds n + 1 and trips
 * runs at most n + 2 steps after the last frame.
 */
function ageSteps(steps: number): number {
  return Math.min(AGE_MAX - 1, Math.max(0, steps - 2));
}

export function speedCounts(mps: number): number {
  return Math.round(mps * 100 + SLACK);
}

/** 5.88 × 100 is 588 and 17.665 × 100 rounds up, whatever the product says in its last bits. */
const SLACK = 1e-9;

function down(value: number): number {
  return Math.floor(value + SLACK * Math.max(1, value));
}
