/** Pins, ages and times of the handover, and the names that its parts go by. */
import type { SignalRef } from '../../bridge/model.ts';
import { Lookup } from '../../bridge/plan.ts';
import { caution, type PlanProblem, refuse, tidy } from '../../bridge/problem.ts';
import type { Dictionary } from '../../dictionary/model.ts';
import { channelPlans } from '../channels/plan.ts';
import type { GuardPlan } from '../model.ts';
import { slug } from '../obligations/words.ts';

export function handoverProblems(plan: GuardPlan, dictionaries: Dictionary[]): PlanProblem[] {
  return [
    ...pins(plan),
    ...sameNames(plan),
    ...noDriver(plan),
    ...ages(plan, dictionaries),
    ...slowerThanDriver(plan),
    ...reactionTime(plan),
  ];
}

function pins(plan: GuardPlan): PlanProblem[] {
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

/** Names become causes and obligations: two that read alike could not be told apart. */
function sameNames({ handover: h }: GuardPlan): PlanProblem[] {
  const taken = new Map(
    ['command', 'speed', 'torque', 'supply', 'remote', 'measured steering'].map((n) => [slug(n), '']),
  );
  const lines = [
    ...h.driverActs.map(({ name }, i) => ({ name, path: `handover.driver_acts[${i}].name` })),
    ...h.agreement.map(({ name }, i) => ({ name, path: `handover.agreement[${i}].name` })),
  ];
  return lines.flatMap(({ name, path }) => {
    const word = slug(name);
    const other = taken.get(word);
    taken.set(word, path);
    if (word !== '' && other === undefined) return [];
    return [
      refuse(
        path,
        word === ''
          ? `"${name}", without a letter or digit`
          : `"${name}", ${other ? `as ${other}` : 'a word of the guard itself'}`,
        'a name of its own, under which a cause can be shown',
      ),
    ];
  });
}

/** Something must take the car back besides buttons: a startled driver turns the wheel or brakes. */
function noDriver({ handover: h }: GuardPlan): PlanProblem[] {
  if (h.driverTorque || h.driverActs.length > 0) return [];
  return [
    caution(
      'handover.driver_torque',
      'missing, and no driver_acts either: the driver takes the car back only by a button',
      'driver_torque, or driver_acts with the brake pedal',
    ),
  ];
}

/** A message that comes every 20 ms is up to 20 ms old at any time, and jitters: below 1.5 periods a limit trips by itself. */
const LEAST_PERIODS = 1.5;

function ages(plan: GuardPlan, dictionaries: Dictionary[]): PlanProblem[] {
  const h = plan.handover;
  const lookup = new Lookup({ buses: [], dictionaries });
  const limit =
    (field: string, ageMs: number) =>
    (ref: SignalRef): PlanProblem[] => {
      const period = lookup.message(ref)?.periodMs;
      if (!period || ageMs >= LEAST_PERIODS * period) return [];
      return [
        refuse(
          `handover.${field}`,
          `${tidy(ageMs)} ms, while "${ref.message}" comes every ${tidy(period)} ms`,
          `at least ${tidy(LEAST_PERIODS * period)} ms, one and a half periods; otherwise it trips in ordinary running`,
        ),
      ];
    };
  const channels = channelPlans(plan);
  const commands = [h.request, ...channels.map((c) => c.command)];
  const sensors = [
    h.speed,
    ...channels.flatMap((c) => (c.measured ? [c.measured.signal] : [])),
    ...(h.driverTorque ? [h.driverTorque.signal] : []),
    ...h.driverActs.map(({ signal }) => signal),
    ...h.agreement.flatMap(({ first, second }) => [first, second]),
    ...(h.supply ? [h.supply.signal] : []),
  ];
  return unique([
    ...commands.flatMap(limit('command_age_ms', h.commandAgeMs)),
    ...sensors.flatMap(limit('sensor_age_ms', h.sensorAgeMs)),
  ]);
}

function unique(problems: PlanProblem[]): PlanProblem[] {
  return [...new Map(problems.map((p) => [`${p.path} ${p.found}`, p])).values()];
}

/** The guard is there to notice first: what it waits for must be over before the driver of the budget reacts. */
function slowerThanDriver({ handover: h, budget }: GuardPlan): PlanProblem[] {
  const driverMs = budget.reactionTimeS * 1000;
  const waits: [string, number][] = [
    ['command_age_ms', h.commandAgeMs],
    ['sensor_age_ms', h.sensorAgeMs],
    ...(h.driverTorque ? [['driver_torque.for_ms', h.driverTorque.forMs] as [string, number]] : []),
    ...h.driverActs.map(({ forMs }, i): [string, number] => [`driver_acts[${i}].for_ms`, forMs]),
    ...h.agreement.map(({ forMs }, i): [string, number] => [`agreement[${i}].for_ms`, forMs]),
    ...(h.supply ? [['supply.for_ms', h.supply.forMs] as [string, number]] : []),
  ];
  return waits
    .filter(([, ms]) => ms > driverMs)
    .map(([field, ms]) =>
      caution(
        `handover.${field}`,
        `${tidy(ms)} ms, longer than the ${tidy(driverMs)} ms after which the budget counts on the driver`,
        `at most ${tidy(driverMs)} ms, better a small part of it`,
      ),
    );
}

/** Least published time to a first steering reaction: Loeb et al., SAE 2021-01-0861 (drivers who looked at the hazard). */
const LEAST_REACTION_S = 0.65;
/** Upper end of steering reaction with hands on the wheel: Paula et al., Sensors 2023, 23(24) 9785. */
const HANDS_ON_REACTION_S = 1.74;

function reactionTime(plan: GuardPlan): PlanProblem[] {
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
