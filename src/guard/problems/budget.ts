/** Tables over the budget, and what keeps a budget from being computed. */
import { caution, type PlanProblem, refuse, tidy } from '../../bridge/problem.ts';
import type { Host } from '../../car/model.ts';
import { isStable, lateralAccelerationGain } from '../../car/steady.ts';
import { tableAt } from '../budget/interpolate.ts';
import { type ChannelCheck, checkTables } from '../budget/margin.ts';
import type { GuardPlan } from '../model.ts';

export function budgetProblems(plan: GuardPlan, host: Host): PlanProblem[] {
  // Figures of no car at all are told with build.yaml.
  if (host.cgToFrontM >= host.wheelbaseM) return [];
  const unstable = unstableVariants(plan, host);
  if (unstable.length > 0) return unstable;
  const check = checkTables(plan, host);
  return [
    ...check.channels.flatMap((c) => over(c)),
    ...check.channels.flatMap((c) => releaseRate(plan, c)),
    ...fromBends(plan, host),
    ...check.missing.map(({ channel, why }) =>
      caution(
        channel,
        `no budget can be computed: ${why}`,
        'the figures that it needs; until then nothing bounds its tables',
      ),
    ),
  ];
}

function unstableVariants(plan: GuardPlan, host: Host): PlanProblem[] {
  if (!plan.steering) return [];
  const speed = plan.budget.speedMaxMps;
  const cars = [
    { path: 'budget.speed_max_mps', car: host, what: 'the car of build.yaml' },
    ...plan.budget.variants.map((v, i) => ({
      path: `budget.variants[${i}]`,
      car: { ...host, massKg: v.massKg ?? host.massKg, cgToFrontM: v.cgToFrontM ?? host.cgToFrontM },
      what: `the car of the variant "${v.name}"`,
    })),
  ];
  return cars.flatMap(({ path, car, what }) => {
    if (car.cgToFrontM < car.wheelbaseM && isStable(car, speed)) return [];
    return [
      refuse(
        path,
        `${tidy(speed)} m/s, where ${what} does not run straight by itself`,
        'a lower speed, or stiffnesses and centre of gravity that fit the car',
      ),
    ];
  });
}

function over(c: ChannelCheck): PlanProblem[] {
  const tables = [
    ['level', c.levelOverFromMps, c.unit],
    ['slew', c.slewOverFromMps, c.rateUnit],
  ] as const;
  return tables.flatMap(([of, from, unit]) => {
    if (from === null) return [];
    const row = c.rows.find((r) => r.speedMps === from);
    const most = of === 'level' ? row?.levelMax : row?.slewMax;
    return [
      caution(
        `${c.channel}.${of}`,
        `a ${of} above the budget from ${tidy(from)} m/s on`,
        `at most ${(most ?? 0).toFixed(1)}${unit.startsWith('°') ? '' : ' '}${unit} there`,
      ),
    ];
  });
}

/** Letting go moves the car too: from the level to zero within `release_ms`, which must not be quicker than the budget's slew. */
function releaseRate(plan: GuardPlan, c: ChannelCheck): PlanProblem[] {
  // Letting go of brake or drive moves no car aside.
  if (c.channel !== 'steering') return [];
  const { releaseMs } = plan.handover;
  const worst = c.rows
    .map((r) => ({ ...r, needed: r.slewMax > 0 ? (r.level / r.slewMax) * 1000 : 0 }))
    .reduce((a, b) => (b.needed > a.needed ? b : a));
  if (worst.needed <= releaseMs) return [];
  return [
    caution(
      'handover.release_ms',
      `${tidy(releaseMs)} ms: letting go from ${worst.level.toFixed(0)}${c.unit === '°' ? '' : ' '}${c.unit} at ${tidy(worst.speedMps)} m/s is quicker than the budget's slew`,
      `at least ${Math.ceil(worst.needed)} ms, or a lower level`,
    ),
  ];
}

/** A runaway may begin in any bend that the level can hold; a budget that leaves sharper ones out says so. */
function fromBends(plan: GuardPlan, host: Host): PlanProblem[] {
  const { steering, budget } = plan;
  const counted = budget.bendAccelerationMps2;
  // A band around the path bounds a runaway wherever it begins.
  if (steering?.by !== 'angle' || steering.path || counted === undefined) return [];
  const level = steering.level.map((p): [number, number] => [p.speedMps, p.angleDeg]);
  const speeds = Array.from({ length: Math.floor(budget.speedMaxMps) }, (_, i) => i + 1);
  const held = speeds.map((speedMps) => ({
    speedMps,
    mps2:
      ((tableAt(level, speedMps) * Math.PI) / 180 / host.steeringRatio) *
      lateralAccelerationGain(host, speedMps),
  }));
  const most = held.reduce((a, b) => (b.mps2 > a.mps2 ? b : a), { speedMps: 0, mps2: 0 });
  if (most.mps2 <= counted) return [];
  return [
    caution(
      'budget.bend_acceleration_mps2',
      `${tidy(counted)} m/s², while the level holds bends of up to ${most.mps2.toFixed(1)} m/s² (at ${tidy(most.speedMps)} m/s): a runaway out of those goes further than the budget says`,
      'the field left out, which counts from any of them',
    ),
  ];
}
