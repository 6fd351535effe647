/** Tables over speed: that they rise in speed, reach as far as the car may go, and that the slew can follow the level. */
import { caution, type PlanProblem, refuse, tidy } from '../../bridge/problem.ts';
import { tableAt } from '../budget/interpolate.ts';
import { type ChannelPlan, channelPlans, type PlanPoints } from '../channels/plan.ts';
import { SPEED_FOLLOW_MPS2 } from '../figures.ts';
import type { GuardPlan } from '../model.ts';

export function tableProblems(plan: GuardPlan): PlanProblem[] {
  return channelPlans(plan).flatMap((c) => {
    const shape = [
      ...rising(c.level, `${c.key}.level`),
      ...rising(c.slew, `${c.key}.slew`),
      ...(c.path ? rising(c.path.within, `${c.key}.path.within`) : []),
    ];
    return [
      ...shape,
      ...nothing(c),
      ...ends(c, plan.budget.speedMaxMps),
      ...(shape.length === 0 ? [...tooSteep(c), ...bandTooSteep(c)] : []),
    ];
  });
}

function rising(points: PlanPoints, path: string): PlanProblem[] {
  return points.flatMap(([speed], i) => {
    const before = points[i - 1]?.[0];
    if (before === undefined || speed > before) return [];
    return [
      refuse(
        `${path}[${i}].speed_mps`,
        `${tidy(speed)} after ${tidy(before)}`,
        'speeds that rise from line to line, each once',
      ),
    ];
  });
}

function nothing(c: ChannelPlan): PlanProblem[] {
  const unit = c.unit === '°' ? '°' : ` ${c.unit}`;
  const rate = c.rateUnit.startsWith('°') ? c.rateUnit : ` ${c.rateUnit}`;
  return [
    ...(c.level.every(([, y]) => y === 0)
      ? [
          refuse(
            `${c.key}.level`,
            `0${unit} at every speed`,
            'a level above 0 at some speed; otherwise nothing can be ordered',
          ),
        ]
      : []),
    ...(c.slew.some(([, y]) => y === 0)
      ? [
          refuse(
            `${c.key}.slew`,
            `0${rate} at some speed`,
            'a rate above 0 everywhere; at 0 the order cannot move at all',
          ),
        ]
      : []),
  ];
}

/** Beyond its last point a table is held, which at a higher speed allows more than its writer looked at. */
function ends(c: ChannelPlan, speedMax: number): PlanProblem[] {
  return (['level', 'slew'] as const).flatMap((of) => {
    const last = c[of].at(-1)?.[0] ?? 0;
    if (last >= speedMax) return [];
    const value = c[of].at(-1)?.[1] ?? 0;
    return [
      caution(
        `${c.key}.${of}`,
        `ends at ${tidy(last)} m/s; from there to budget.speed_max_mps, ${tidy(speedMax)} m/s, its last value ${tidy(value)} is held`,
        `a point at ${tidy(speedMax)} m/s or beyond`,
      ),
    ];
  });
}

/** A level that falls with speed takes the order along, faster than the slew allows where the car gains speed. */
function tooSteep(c: ChannelPlan): PlanProblem[] {
  return c.level.flatMap(([speed, value], i) => {
    const before = c.level[i - 1];
    if (before === undefined) return [];
    const falls = ((before[1] - value) / (speed - before[0])) * SPEED_FOLLOW_MPS2;
    const slew = Math.min(tableAt(c.slew, before[0]), tableAt(c.slew, speed));
    if (falls <= slew) return [];
    return [
      caution(
        `${c.key}.level[${i}]`,
        `between ${tidy(before[0])} and ${tidy(speed)} m/s, gaining ${SPEED_FOLLOW_MPS2} m/s each second, the level falls by ${tidy(falls)} ${c.rateUnit}, the slew allows ${tidy(slew)}`,
        'a level that falls more slowly with speed, or a larger slew there; as it is, the obligation on the slew fails',
      ),
    ];
  });
}

/** The band around the path may narrow no faster than the order can follow it, with something left to follow the road. */
function bandTooSteep(c: ChannelPlan): PlanProblem[] {
  if (c.path === null) return [];
  const slowest = Math.min(...c.slew.map(([, y]) => y));
  return c.path.within.flatMap(([speed, value], i) => {
    const before = c.path?.within[i - 1];
    if (before === undefined) return [];
    const narrows = ((before[1] - value) / (speed - before[0])) * SPEED_FOLLOW_MPS2;
    if (narrows < slowest / 2) return [];
    return [
      refuse(
        `${c.key}.path.within[${i}]`,
        `between ${tidy(before[0])} and ${tidy(speed)} m/s, gaining ${SPEED_FOLLOW_MPS2} m/s each second, the band narrows by ${tidy(narrows)} ${c.rateUnit}, the least slew is ${tidy(slowest)}`,
        'a band that narrows at most half as fast as the least slew, or a larger slew',
      ),
    ];
  });
}
