/** A channel's plan in the one form that the engines share: unit, tables as points over speed, and what is special about it. */
import type { MessageRef, SignalRef } from '../../bridge/model.ts';
import type { GuardPlan } from '../model.ts';

export const CHANNELS = ['steering', 'braking', 'drive'] as const;
export type ChannelKey = (typeof CHANNELS)[number];

/** Points of a table over speed in physical units: [m/s, value]. */
export type PlanPoints = [speedMps: number, value: number][];

export interface ChannelPlan {
  key: ChannelKey;
  /** 'angle', 'pressure', …: what is ordered. */
  by: string;
  /** "angle of the steering wheel". */
  quantity: string;
  unit: string;
  /** Unit of the slew. */
  rateUnit: string;
  /** Names of the value fields in `guard.yaml`, for problems: "angle_deg", "rate_deg_per_s". */
  fields: { level: string; slew: string };
  /** An order may go to both sides of zero, or only up from it. */
  sides: 'both' | 'one';
  /** Largest value that a table may hold, in `unit`. */
  reach: number;
  level: PlanPoints;
  slew: PlanPoints;
  command: SignalRef;
  /** Command of the radio remote; null where there is none, or the remote leaves this channel alone. */
  remote: SignalRef | null;
  output: MessageRef;
  /** Null where two tracks carry the order. */
  outputOrder: string | null;
  outputActive: string;
  outputPeriodMs: number;
  /** Where the order starts at what is measured, and may be handed over only near it. */
  measured: { signal: SignalRef; near: number } | null;
  /** Path that the order must stay near; null where only the level bounds it. */
  path: { signal: SignalRef; within: PlanPoints } | null;
  tracks: { signal: string; restV: number; fullV: number }[];
  windowV: number | null;
}

/** The channels of a guard in the order of `CHANNELS`. */
export function channelPlans(plan: GuardPlan): ChannelPlan[] {
  return [steering(plan), braking(plan), drive(plan)].filter((channel) => channel !== null);
}

function steering({ steering: s, remote: r }: GuardPlan): ChannelPlan | null {
  if (!s) return null;
  const shared = {
    key: 'steering' as const,
    sides: 'both' as const,
    ...carried(s, r?.steering),
    ...plain(s),
  };
  if (s.by === 'torque')
    return {
      ...shared,
      ...what('torque', 'torque at the steering wheel', 'N·m', 'torque_nm', 'rate_nm_per_s', 100),
      level: s.level.map((p) => [p.speedMps, p.torqueNm]),
      slew: s.slew.map((p) => [p.speedMps, p.rateNmPerS]),
      measured: null,
      path: null,
    };
  return {
    ...shared,
    ...what('angle', 'angle of the steering wheel', '°', 'angle_deg', 'rate_deg_per_s', 2000),
    level: s.level.map((p) => [p.speedMps, p.angleDeg]),
    slew: s.slew.map((p) => [p.speedMps, p.rateDegPerS]),
    measured: { signal: s.angle, near: s.armAngleDeg },
    path: s.path
      ? { signal: s.path.angle, within: s.path.within.map((p) => [p.speedMps, p.angleDeg]) }
      : null,
  };
}

function braking({ braking: s, remote: r }: GuardPlan): ChannelPlan | null {
  if (!s) return null;
  const shared = {
    key: 'braking' as const,
    sides: 'one' as const,
    measured: null,
    path: null,
    ...carried(s, r?.braking),
    ...plain(s),
  };
  switch (s.by) {
    case 'pressure':
      return {
        ...shared,
        ...what(s.by, 'brake pressure', 'bar', 'pressure_bar', 'rate_bar_per_s', 300),
        level: s.level.map((p) => [p.speedMps, p.pressureBar]),
        slew: s.slew.map((p) => [p.speedMps, p.rateBarPerS]),
      };
    case 'deceleration':
      return {
        ...shared,
        ...what(s.by, 'deceleration', 'm/s²', 'deceleration_mps2', 'rate_mps3', 12),
        level: s.level.map((p) => [p.speedMps, p.decelerationMps2]),
        slew: s.slew.map((p) => [p.speedMps, p.rateMps3]),
      };
    case 'position':
      return {
        ...shared,
        ...what(s.by, 'travel of the brake pedal', '%', 'travel_percent', 'rate_percent_per_s', 100),
        level: s.level.map((p) => [p.speedMps, p.travelPercent]),
        slew: s.slew.map((p) => [p.speedMps, p.ratePercentPerS]),
      };
  }
}

function drive({ drive: s, remote: r }: GuardPlan): ChannelPlan | null {
  if (!s) return null;
  const shared = {
    key: 'drive' as const,
    sides: 'one' as const,
    measured: null,
    path: null,
    ...carried(s, r?.drive),
  };
  if (s.by === 'torque')
    return {
      ...shared,
      ...plain(s),
      ...what(s.by, 'torque of the drive', 'N·m', 'torque_nm', 'rate_nm_per_s', 2000),
      level: s.level.map((p) => [p.speedMps, p.torqueNm]),
      slew: s.slew.map((p) => [p.speedMps, p.rateNmPerS]),
    };
  return {
    ...shared,
    ...what(s.by, 'travel of the accelerator', '%', 'pedal_percent', 'rate_percent_per_s', 100),
    level: s.level.map((p) => [p.speedMps, p.pedalPercent]),
    slew: s.slew.map((p) => [p.speedMps, p.ratePercentPerS]),
    outputOrder: null,
    tracks: s.tracks,
    windowV: s.windowV,
  };
}

function what(
  by: string,
  quantity: string,
  unit: string,
  level: string,
  slew: string,
  reach: number,
): Pick<ChannelPlan, 'by' | 'quantity' | 'unit' | 'rateUnit' | 'fields' | 'reach'> {
  return {
    by,
    quantity,
    unit,
    rateUnit: unit === 'm/s²' ? 'm/s³' : `${unit}/s`,
    fields: { level, slew },
    reach,
  };
}

function carried(
  s: NonNullable<GuardPlan['steering' | 'braking' | 'drive']>,
  remote: SignalRef | undefined,
): Pick<ChannelPlan, 'command' | 'remote' | 'output' | 'outputActive' | 'outputPeriodMs'> {
  const { command, output, outputActive, outputPeriodMs } = s;
  return { command, remote: remote ?? null, output, outputActive, outputPeriodMs };
}

function plain(s: { outputOrder: string }): Pick<ChannelPlan, 'outputOrder' | 'tracks' | 'windowV'> {
  return { outputOrder: s.outputOrder, tracks: [], windowV: null };
}
