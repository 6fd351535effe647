/** What is wrong or unwise in a guard's figures, before anything is built or proved: place, found, expected. */
import type { SignalRef } from '../bridge/model.ts';
import { Lookup } from '../bridge/plan.ts';
import { caution, inGuardFile, type PlanProblem, refuse, tidy } from '../bridge/problem.ts';
import type { Host } from '../car/model.ts';
import { isStable } from '../car/steady.ts';
import type { Dictionary } from '../dictionary/model.ts';
import { budgetAt } from './budget.ts';
import { checkTables, type TableCheck } from './margin.ts';
import type { GuardPlan } from './model.ts';

interface Given {
  plan: GuardPlan;
  host: Host;
  dictionaries: Dictionary[];
}

/** Every problem of the plan; joins to buses and signals are judged by the bridge (`planProblems`). */
export function guardPlanProblems(plan: GuardPlan, host: Host, dictionaries: Dictionary[]): PlanProblem[] {
  const given = { plan, host, dictionaries };
  const tables = tableShape(given);
  return inGuardFile([
    ...tables,
    ...pins(given),
    ...ages(given),
    ...slowerThanDriver(given),
    ...reactionTime(given),
    // A budget needs tables that rise in speed and a car that runs straight.
    ...(tables.length === 0 ? overBudget(given) : []),
  ]);
}

function tableShape({ plan }: Given): PlanProblem[] {
  const { level, slew } = plan.steering;
  return [
    ...rising(level, 'steering.level'),
    ...rising(slew, 'steering.slew'),
    ...(level.every((p) => p.angleDeg === 0)
      ? [
          refuse(
            'steering.level',
            '0° at every speed',
            'a level above 0 at some speed; otherwise nothing can be ordered',
          ),
        ]
      : []),
    ...(slew.some((p) => p.rateDegPerS === 0)
      ? [
          refuse(
            'steering.slew',
            '0°/s at some speed',
            'a rate above 0 everywhere; at 0 the order cannot move at all',
          ),
        ]
      : []),
  ];
}

function rising(points: readonly { speedMps: number }[], path: string): PlanProblem[] {
  return points.flatMap((p, i) => {
    const before = points[i - 1];
    if (!before || p.speedMps > before.speedMps) return [];
    return [
      refuse(
        `${path}[${i}].speed_mps`,
        `${tidy(p.speedMps)} after ${tidy(before.speedMps)}`,
        'speeds that rise from line to line, each once',
      ),
    ];
  });
}

function pins({ plan }: Given): PlanProblem[] {
  const problems: PlanProblem[] = [];
  if (plan.armInput.name === plan.stopInput.name) {
    problems.push(
      refuse('stop_input.name', `"${plan.stopInput.name}", which also arms`, 'an input of its own for stop'),
    );
  }
  if (plan.stopInput.active === 'high') {
    problems.push(caution('stop_input.active', 'high: a broken wire reads as "do not stop"', 'low'));
  }
  if (plan.armInput.active === 'low') {
    problems.push(caution('arm_input.active', 'low: a broken wire reads as pressed', 'high'));
  }
  return problems;
}

/** A message that comes every 20 ms is up to 20 ms old at any time, and jitters: below 1.5 periods a limit trips by itself. */
const LEAST_PERIODS = 1.5;

function ages({ plan, dictionaries }: Given): PlanProblem[] {
  const { steering } = plan;
  const lookup = new Lookup({ buses: [], dictionaries });
  const limit = (ref: SignalRef, ageMs: number, field: string): PlanProblem[] => {
    const period = lookup.message(ref)?.periodMs;
    if (!period || ageMs >= LEAST_PERIODS * period) return [];
    return [
      refuse(
        `steering.${field}`,
        `${tidy(ageMs)} ms, while "${ref.message}" comes every ${tidy(period)} ms`,
        `at least ${tidy(LEAST_PERIODS * period)} ms, one and a half periods; otherwise it trips in ordinary running`,
      ),
    ];
  };
  return [
    ...limit(steering.command, steering.commandAgeMs, 'command_age_ms'),
    ...limit(steering.request, steering.commandAgeMs, 'command_age_ms'),
    ...limit(steering.speed, steering.sensorAgeMs, 'sensor_age_ms'),
    ...limit(steering.angle, steering.sensorAgeMs, 'sensor_age_ms'),
    ...limit(steering.driverTorque, steering.sensorAgeMs, 'sensor_age_ms'),
  ];
}

/** The guard is there to notice first: what it waits for must be over before the driver of the budget reacts. */
function slowerThanDriver({ plan: { steering, budget } }: Given): PlanProblem[] {
  const driverMs = budget.reactionTimeS * 1000;
  const waits = [
    ['command_age_ms', steering.commandAgeMs],
    ['sensor_age_ms', steering.sensorAgeMs],
    ['override_ms', steering.overrideMs],
  ] as const;
  return waits
    .filter(([, ms]) => ms > driverMs)
    .map(([field, ms]) =>
      caution(
        `steering.${field}`,
        `${tidy(ms)} ms, longer than the ${tidy(driverMs)} ms after which the budget counts on the driver`,
        `at most ${tidy(driverMs)} ms, better a small part of it`,
      ),
    );
}

/** Least published time to a first steering reaction: Loeb et al., SAE 2021-01-0861 (drivers who looked at the hazard). */
const LEAST_REACTION_S = 0.65;
/** Upper end of steering reaction with hands on the wheel: Paula et al., Sensors 2023, 23(24) 9785. */
const HANDS_ON_REACTION_S = 1.74;

function reactionTime({ plan }: Given): PlanProblem[] {
  const time = plan.budget.reactionTimeS;
  if (time >= LEAST_REACTION_S) return [];
  return [
    caution(
      'budget.reaction_time_s',
      `${tidy(time)} s, less than any published figure`,
      `${LEAST_REACTION_S} s (drivers who saw it coming) to ${HANDS_ON_REACTION_S} s (hands on) or much more (hands off)`,
    ),
  ];
}

function overBudget({ plan, host }: Given): PlanProblem[] {
  // Figures of no car at all are told with build.yaml.
  if (host.cgToFrontM >= host.wheelbaseM) return [];
  if (!isStable(host, plan.budget.speedMaxMps)) {
    const found = `${tidy(plan.budget.speedMaxMps)} m/s, where the car of build.yaml does not run straight by itself`;
    return [
      refuse(
        'budget.speed_max_mps',
        found,
        'a lower speed, or stiffnesses and centre of gravity that fit the car',
      ),
    ];
  }
  const check = checkTables(plan, host);
  const { levelOverFromMps: level, slewOverFromMps: slew } = check;
  const problems: PlanProblem[] = [];
  const at = (speed: number) => budgetAt(host, plan.budget, speed);
  if (level !== null) {
    const found = `a level above the budget from ${tidy(level)} m/s on`;
    problems.push(caution('steering.level', found, `at most ${at(level).levelDeg.toFixed(1)}° there`));
  }
  if (slew !== null) {
    const found = `a slew above the budget from ${tidy(slew)} m/s on`;
    problems.push(caution('steering.slew', found, `at most ${at(slew).slewDegPerS.toFixed(1)}°/s there`));
  }
  const release = releaseRate(plan, check);
  if (release) problems.push(release);
  return problems;
}

/** Letting go turns the wheel too: from the level to zero within `release_ms`, which must not be quicker than the budget's slew. */
function releaseRate(plan: GuardPlan, { rows }: TableCheck): PlanProblem | null {
  const seconds = plan.steering.releaseMs / 1000;
  const worst = rows
    .map((r) => ({ ...r, needed: (r.tableLevelDeg / r.slewDegPerS) * 1000 }))
    .reduce((a, b) => (b.needed > a.needed ? b : a));
  if (worst.needed <= seconds * 1000) return null;
  return caution(
    'steering.release_ms',
    `${tidy(plan.steering.releaseMs)} ms: letting go from ${worst.tableLevelDeg.toFixed(0)}° at ${tidy(worst.speedMps)} m/s is quicker than the budget's slew`,
    `at least ${Math.ceil(worst.needed)} ms, or a lower level`,
  );
}
