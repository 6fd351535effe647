/** The budget of any channel in the channel's own unit. */
import type { Host } from '../../car/model.ts';
import type { ChannelKey } from '../channels/plan.ts';
import type { GuardPlan } from '../model.ts';
import { tableAt } from './interpolate.ts';
import { brakingAllowance, driveAllowance } from './longitudinal.ts';
import { steeringBudgetAt } from './steering.ts';

/** The most that a table may allow at one speed, in the channel's unit and per second. */
export interface Most {
  level: number;
  slew: number;
}

/** Budget over speed of a channel, or why there is none. */
export type ChannelBudget = { at: (speedMps: number) => Most } | { missing: string };

/**
 * Budgets of the channels that a plan has. Functions throw as `steeringBudgetAt`. Braking and drive: the longest that a
 * runaway lasts is the driver's reaction time plus the guard's detection time.
 */
export function channelBudgets(plan: GuardPlan, host: Host): Map<ChannelKey, ChannelBudget> {
  const made: [ChannelKey, ChannelBudget | null][] = [
    ['steering', steering(plan, host)],
    ['braking', braking(plan)],
    ['drive', drive(plan)],
  ];
  return new Map(made.flatMap(([key, budget]) => (budget ? [[key, budget]] : [])));
}

function steering({ steering: s, budget }: GuardPlan, host: Host): ChannelBudget | null {
  if (!s) return null;
  const band = s.by === 'angle' && s.path?.within.map((p): [number, number] => [p.speedMps, p.angleDeg]);
  const angle = (speedMps: number) =>
    steeringBudgetAt(host, budget, speedMps, band ? tableAt(band, speedMps) : undefined);
  if (s.by === 'angle') {
    return {
      at: (speedMps) => {
        const { levelDeg, slewDegPerS } = angle(speedMps);
        return { level: levelDeg, slew: slewDegPerS };
      },
    };
  }
  const held = s.anglePerTorqueDegPerNm;
  if (!held)
    return {
      missing:
        'what angle a torque holds is not known: steering.angle_per_torque_deg_per_nm, measured over speed',
    };
  const points = held.map((p): [number, number] => [p.speedMps, p.degPerNm]);
  return {
    at: (speedMps) => {
      const { levelDeg, slewDegPerS } = angle(speedMps);
      const perNm = tableAt(points, speedMps);
      return { level: levelDeg / perNm, slew: slewDegPerS / perNm };
    },
  };
}

/** Largest values that the tables of braking and drive can hold (channels/schema.ts), where the budget asks for no less. */
const END = { decelerationMps2: 12, accelerationMps2: 12 };

function braking({ braking: s, budget }: GuardPlan): ChannelBudget | null {
  if (!s) return null;
  const { following } = budget;
  if (!following) return { missing: 'the car behind is not described: budget.following' };
  const perUnit =
    s.by === 'pressure' ? s.decelerationPerBarMps2 : s.by === 'position' ? s.decelerationPerPercentMps2 : 1;
  const lastsS = budget.reactionTimeS + budget.detectionTimeS;
  return {
    at: (speedMps) => ({
      level:
        brakingAllowance(
          following.gapS * speedMps,
          {
            speedMps,
            lastsS,
            followerReactionS: following.reactionTimeS,
            followerDecelerationMps2: following.decelerationMps2,
          },
          END.decelerationMps2,
        ) / perUnit,
      slew: following.jerkMps3 / perUnit,
    }),
  };
}

function drive({ drive: s, budget }: GuardPlan): ChannelBudget | null {
  if (!s) return null;
  if (!budget.drive) return { missing: 'what unwanted drive may do is not said: budget.drive' };
  const { speedGainMps, distanceM, brakingMps2, jerkMps3 } = budget.drive;
  const perUnit = s.by === 'pedal' ? s.accelerationPerPercentMps2 : s.accelerationPerNmMps2;
  const reactionS = budget.reactionTimeS + budget.detectionTimeS;
  const most = Math.min(
    END.accelerationMps2,
    driveAllowance({ reactionS, brakingMps2, speedGainMps, distanceM }),
  );
  return { at: () => ({ level: most / perUnit, slew: jerkMps3 / perUnit }) };
}
