/**
 * The plan's figures as the obligations understand them: worked out here once more from the plan, in whole
 * micro-units, and not taken from the guard. A test holds both against each other for random plans.
 */
import { SPEED_FOLLOW_MPS2, SPEED_LEAD_MPS, type SteeringFigures } from '../figures.ts';
import type { GuardPlan } from '../model.ts';

const MICRO = 1_000_000;
/** Counts per physical unit: 0.01°, 0.01 m/s, 0.01 N·m. */
const PER_UNIT = 100;
const BUTTON_UP_MS = 50;
const BUTTON_DOWN_MS = 30;

export function specFigures(plan: GuardPlan, stepMs: number): SteeringFigures {
  const { steering: s, budget } = plan;
  const tolerance = stepMs < 5 ? 1 : Math.floor(stepMs / 5);
  const shortest = Math.max(stepMs - tolerance, 1);
  const longest = stepMs + tolerance;
  const steps = (ms: number) => Math.floor(micro(ms) / (longest * MICRO));
  const lasting = (ms: number) => 1 + Math.ceil(micro(ms) / (shortest * MICRO));
  const age = (ms: number) => Math.min(1022, Math.max(steps(ms) - 2, 0));
  const counts = (value: number) => Math.floor((micro(value) * PER_UNIT) / MICRO);
  const speeds = (value: number) => Math.round((micro(value) * PER_UNIT) / MICRO);
  const tables = [...s.level, ...s.slew].map((point) => speeds(point.speedMps));
  const down = lasting(BUTTON_DOWN_MS);
  return {
    stepMs,
    spacingMinMs: shortest,
    spacingMaxMs: longest,
    level: s.level.map(({ speedMps, angleDeg }) => [speeds(speedMps), counts(angleDeg)]),
    slew: s.slew.map(({ speedMps, rateDegPerS }) => [
      speeds(speedMps),
      Math.floor((micro(rateDegPerS) * PER_UNIT * shortest) / (1000 * MICRO)),
    ]),
    levelMax: Math.max(...s.level.map(({ angleDeg }) => counts(angleDeg))),
    speedFollow: Math.ceil((SPEED_FOLLOW_MPS2 * PER_UNIT * longest) / 1000),
    speedInit: Math.max(...tables),
    speedMax: counts(budget.speedMaxMps),
    speedLead: SPEED_LEAD_MPS * PER_UNIT,
    commandAgeSteps: age(s.commandAgeMs),
    sensorAgeSteps: age(s.sensorAgeMs),
    releaseSteps: Math.max(steps(s.releaseMs), 1),
    overrideTorque: Math.max(counts(s.overrideTorqueNm), 1),
    overrideSteps: Math.max(steps(s.overrideMs), 1),
    armHoldSteps: Math.max(lasting(s.armHoldMs), down + 1),
    armAngle: counts(s.armAngleDeg),
    buttonUpSteps: lasting(BUTTON_UP_MS),
    buttonDownSteps: down,
  };
}

function micro(value: number): number {
  return Math.round(value * MICRO);
}
