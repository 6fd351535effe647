/**
 * The plan's figures in the guard's own integers: counts and steps. Every rounding goes to the cautious side, and every
 * time is turned into steps with the step spacing that is worst for it.
 */
import type { GuardPlan } from './model.ts';
import { AGE_MAX } from './units.ts';

/** Points of a table over speed: [speed in 0.01 m/s, value]. */
export type Points = [x: number, y: number][];

export interface SteeringFigures {
  stepMs: number;
  /** Step spacing that the guard accepts, by its own clock. */
  spacingMinMs: number;
  spacingMaxMs: number;
  /** Level in 0.01° over speed. */
  level: Points;
  /** Largest change of the order in one step, 0.01°, over speed. */
  slew: Points;
  /** Highest point of the level table. */
  levelMax: number;
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
  /** From the step in which a reason to release is seen to the step with zero order, both counted. */
  releaseSteps: number;
  overrideTorque: number;
  overrideSteps: number;
  armHoldSteps: number;
  armAngle: number;
  /** A press counts when the button was up for `buttonUpSteps` and then down for `buttonDownSteps`. */
  buttonUpSteps: number;
  buttonDownSteps: number;
}

/** The speed that the tables are read at follows the measured one as if the car gained or lost at least this much. */
export const SPEED_FOLLOW_MPS2 = 3;
/** A measured speed this far above the followed one has risen as no loaded van's does: the guard trips. */
export const SPEED_LEAD_MPS = 1;
/** Contacts bounce for some milliseconds; a press is a clear one. */
export const BUTTON_UP_MS = 50;
export const BUTTON_DOWN_MS = 30;

export function steeringFigures(plan: GuardPlan, stepMs: number): SteeringFigures {
  const s = plan.steering;
  const tolerance = Math.max(1, Math.floor(stepMs / 5));
  const spacingMinMs = Math.max(1, stepMs - tolerance);
  const spacingMaxMs = stepMs + tolerance;
  const within = (ms: number) => Math.floor(ms / spacingMaxMs + SLACK);
  const atLeast = (ms: number) => Math.ceil(ms / spacingMinMs - SLACK) + 1;
  const level = s.level.map((p): [number, number] => [speedCounts(p.speedMps), down(p.angleDeg / 0.01)]);
  return {
    stepMs,
    spacingMinMs,
    spacingMaxMs,
    level,
    slew: s.slew.map((p) => [speedCounts(p.speedMps), down((p.rateDegPerS * spacingMinMs) / 1000 / 0.01)]),
    levelMax: Math.max(...level.map((p) => p[1])),
    speedFollow: Math.ceil((SPEED_FOLLOW_MPS2 * spacingMaxMs) / 1000 / 0.01 - SLACK),
    speedInit: Math.max(...[...s.level, ...s.slew].map((p) => speedCounts(p.speedMps))),
    speedMax: down(plan.budget.speedMaxMps / 0.01),
    speedLead: SPEED_LEAD_MPS / 0.01,
    commandAgeSteps: ageSteps(within(s.commandAgeMs)),
    sensorAgeSteps: ageSteps(within(s.sensorAgeMs)),
    releaseSteps: Math.max(1, within(s.releaseMs)),
    overrideTorque: Math.max(1, down(s.overrideTorqueNm / 0.01)),
    overrideSteps: Math.max(1, within(s.overrideMs)),
    armHoldSteps: Math.max(atLeast(BUTTON_DOWN_MS) + 1, atLeast(s.armHoldMs)),
    armAngle: down(s.armAngleDeg / 0.01),
    buttonUpSteps: atLeast(BUTTON_UP_MS),
    buttonDownSteps: atLeast(BUTTON_DOWN_MS),
  };
}

/**
 * Step sizes from which a release picks the smallest that reaches zero in time. A ladder of fixed sizes, each at most
 * half as large again as the one before, keeps every product in the guard and in its proof one by a constant.
 */
export function fadeLadder(f: Pick<SteeringFigures, 'levelMax' | 'releaseSteps'>): number[] {
  const ladder = [1];
  for (let step = 1; step * f.releaseSteps < f.levelMax; ladder.push(step))
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

function speedCounts(mps: number): number {
  return Math.round(mps * 100 + SLACK);
}

/** 5.88 × 100 is 588 and 17.665 × 100 rounds up, whatever the product says in its last bits. */
const SLACK = 1e-9;

function down(value: number): number {
  return Math.floor(value + SLACK * Math.max(1, value));
}
