/**
 * A directed driver for the guard's inputs: it waits for what the guard shows, presses the button as a person would,
 * and then lets one thing go wrong, often exactly at a limit. Blind random inputs would almost never arm.
 */
import { makeTable, tableValue } from '../../logic/table.ts';
import { fadeLadder, type SteeringFigures } from '../figures.ts';
import { AGE_MAX, type SteeringInput, steeringUnits } from '../units.ts';
import type { Random } from './random.ts';

/** What the guard showed in the last step. */
export interface Shown {
  mode: number;
  order: number;
}

export interface Scenario {
  /** Long enough to arm, do wrong, let go, acknowledge and arm again. */
  steps: number;
  /** Gives the inputs of the next step, in the order of `steeringUnits`, into `inputs`. */
  next(shown: Shown, inputs: Float64Array): void;
}

export function scenario(f: SteeringFigures, random: Random): Scenario {
  const { below, pick, chance, between } = random;
  const level = makeTable('level', f.level);
  const at = Object.fromEntries(Object.keys(steeringUnits).map((name, i) => [name, i])) as Record<
    SteeringInput,
    number
  >;
  const near = f.speedMax - f.speedLead - 2 * f.speedFollow;
  const speeds = [0, below(f.speedMax + 1), f.speedMax, near, near - below(200), ...f.level.map((p) => p[0])];
  const rungs = fadeLadder(f).map((step) => step * f.releaseSteps);
  const reachable = (limit: number) => [limit, ...rungs.filter((rung) => rung <= limit)];
  let clock = chance(0.4) ? 2 ** 32 - below(8 * f.stepMs * f.armHoldSteps) : below(2 ** 32);
  let speed = Math.max(0, Math.min(f.speedMax, pick(speeds)));
  let followed = f.speedInit;
  const calm = {
    spacing: pick([f.stepMs, f.stepMs, f.spacingMinMs, f.spacingMaxMs]),
    age: pick([0, 0, f.commandAgeSteps, f.sensorAgeSteps]),
    torque: pick([0, 0, f.overrideTorque - 1, 1 - f.overrideTorque, below(f.overrideTorque)]),
    near: pick([0, 0, f.armAngle - 1, 1 - f.armAngle, f.armAngle, -f.armAngle, below(f.armAngle)]),
    angle: pick(['centre', 'centre', 'inside', 'level', '-level', 'outside'] as const),
    command: pick(['jump', 'jump', 'far', 'drift', 'still', 'rung', 'rung'] as const),
    slope: pick([0, 0, 1, -1, f.speedFollow, -f.speedFollow, f.speedFollow + 1]),
  };
  if (chance(0.1)) speed = f.speedMax + 1;
  let offset = 0;
  let armedFor = 0;
  let wrong: Wrong | null = null;
  const plan: number[] = chance(0.2) ? run(1, below(2 * f.buttonDownSteps + 40)) : [];

  function run(value: number, steps: number): number[] {
    return new Array<number>(Math.max(0, steps)).fill(value);
  }

  function press(): number[] {
    const up = f.buttonUpSteps + pick([-1, 0, 0, 0, 1, 5]);
    const down = f.buttonDownSteps + pick([-1, 0, 0, 0, 1, 3, 30]);
    const bounce = chance(0.2) ? [1, 0] : [];
    const again = chance(0.3) ? [...run(0, f.buttonUpSteps - below(2)), ...run(1, f.buttonDownSteps)] : [];
    return [...run(0, up), ...bounce, ...run(1, down), ...again, 0];
  }

  function button(likely: number): number {
    if (plan.length === 0 && chance(likely)) plan.push(...press());
    const value = plan.shift() ?? 0;
    return chance(0.002) ? 1 - value : value;
  }

  const slowing = Math.ceil((f.speedInit - speed) / f.speedFollow);
  const once = f.armHoldSteps + f.releaseSteps + 4 * (f.buttonUpSteps + f.buttonDownSteps) + 60;
  const steps = Math.min(4000, 2 * once + Math.max(0, slowing));

  function next(shown: Shown, inputs: Float64Array): void {
    const armed = shown.mode === 2;
    armedFor = armed ? armedFor + 1 : 0;
    if (armed && wrong === null && chance(0.03)) wrong = goWrong(f, random);
    if (!armed && wrong !== null && (wrong.left <= 0 || chance(0.02))) wrong = null;
    const now = wrong !== null && wrong.left-- > 0 ? wrong : CALM;

    const spacing = now.spacing ?? calm.spacing;
    clock = (clock + spacing) % 2 ** 32;
    if (armed) speed = Math.max(0, Math.min(f.speedMax, speed + (chance(0.5) ? calm.slope : 0)));
    const measured = Math.min(steeringUnits.speed.hi, speed + (now.speed ?? 0));
    followed = Math.max(followed - f.speedFollow, Math.min(followed + f.speedFollow, measured));
    const limit = tableValue(level, followed);

    const angle = angleFor(calm.angle, limit, random);
    if (calm.command === 'jump' && chance(0.1))
      offset = pick([0, limit, -limit, 10 * limit, below(400) - 200]);
    if (calm.command === 'far') offset = chance(0.02) ? -FAR : FAR;
    if (calm.command === 'rung' && chance(0.03))
      offset = pick([1, -1]) * (pick(reachable(limit)) + pick([-1, 0, 1]));
    if (calm.command === 'drift') offset += between(-60, 60);
    const command = armed ? offset : angle + calm.near;

    inputs[at.command_angle] = Math.max(steeringUnits.angle.lo, Math.min(steeringUnits.angle.hi, command));
    inputs[at.command_request] = now.request ?? (chance(0.001) ? 0 : 1);
    inputs[at.command_age] = now.commandAge ?? Math.min(calm.age, f.commandAgeSteps);
    inputs[at.speed] = measured;
    inputs[at.speed_age] = now.speedAge ?? Math.min(calm.age, f.sensorAgeSteps);
    inputs[at.angle] = angle;
    inputs[at.angle_age] = now.angleAge ?? Math.min(calm.age, f.sensorAgeSteps);
    inputs[at.driver_torque] = now.torque ?? calm.torque;
    inputs[at.torque_age] = now.torqueAge ?? Math.min(calm.age, f.sensorAgeSteps);
    inputs[at.arm_input] = button(now.press === true ? 1 : PRESS[shown.mode]!);
    inputs[at.stop_input] = now.stop ?? (chance(0.0005) ? 1 : 0);
    inputs[at.clock_ms] = clock;
  }
  return { steps, next };
}

/** One thing that goes wrong, for `left` steps. */
interface Wrong {
  left: number;
  spacing?: number;
  speed?: number;
  request?: number;
  commandAge?: number;
  speedAge?: number;
  angleAge?: number;
  torqueAge?: number;
  torque?: number;
  press?: boolean;
  stop?: number;
}

const CALM: Wrong = { left: 0 };
const FAR = 1_000_000;
/** How often the button is begun to be pressed, by mode. */
const PRESS = [0.01, 0.2, 0.003, 0.03, 0.05];

function goWrong(f: SteeringFigures, { pick, below }: Random): Wrong {
  const left = pick([1, 2, f.overrideSteps - 1, f.overrideSteps, f.overrideSteps + 1, 3 * f.releaseSteps]);
  const late = (limit: number) => pick([limit, limit + 1, limit + 1, AGE_MAX]);
  const hands = pick([f.overrideTorque, -f.overrideTorque, 2 * f.overrideTorque, f.overrideTorque - 1]);
  const made: Omit<Wrong, 'left'>[] = [
    { spacing: pick([0, f.spacingMinMs - 1, f.spacingMaxMs + 1, 1000, below(100)]) },
    {
      speed: pick([
        f.speedLead - 1,
        f.speedLead,
        f.speedLead + f.speedFollow,
        f.speedLead + f.speedFollow + 1,
        5000,
      ]),
    },
    { request: 0 },
    { commandAge: late(f.commandAgeSteps) },
    { speedAge: late(f.sensorAgeSteps) },
    { angleAge: late(f.sensorAgeSteps) },
    { torqueAge: late(f.sensorAgeSteps) },
    { torque: hands },
    { torque: hands },
    { press: true },
    { stop: 1 },
  ];
  const wrong = { left, ...pick(made) };
  if (pick([0, 0, 0, 1]) === 1) Object.assign(wrong, pick(made));
  return wrong;
}

function angleFor(style: string, limit: number, { below }: Random): number {
  switch (style) {
    case 'inside':
      return below(2 * limit + 1) - limit;
    case 'level':
      return limit;
    case '-level':
      return -limit;
    case 'outside':
      return limit + 1;
    default:
      return 0;
  }
}
