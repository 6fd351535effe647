/** Guard plans for tests; invented figures. */
import type { Host } from '../../src/car/model.ts';
import type { GuardPlan, SteeringPlan } from '../../src/guard/model.ts';

const signal = (message: string, name: string) => ({ bus: 'van', message, signal: name });

type ByAngle = Extract<SteeringPlan, { by: 'angle' }>;
/** A plan whose steering is by angle. */
export type AnglePlan = GuardPlan & { steering: ByAngle };

/** Steering by angle alone. */
export function samplePlan(): AnglePlan {
  return {
    form: 'guard/2',
    armInput: { name: 'hand-over button', active: 'high' },
    stopInput: { name: 'stop', active: 'low' },
    handover: {
      request: signal('Command', 'Request'),
      speed: signal('Speed', 'Speed'),
      commandAgeMs: 100,
      sensorAgeMs: 100,
      releaseMs: 1000,
      armHoldMs: 500,
      driverTorque: { signal: signal('Wheel', 'Torque'), atNm: 3, forMs: 100 },
      driverActs: [],
      agreement: [],
    },
    steering: {
      by: 'angle',
      command: signal('Command', 'Angle'),
      angle: signal('Wheel', 'Angle'),
      output: { bus: 'donor', message: 'Order' },
      outputOrder: 'Angle',
      outputActive: 'Active',
      outputPeriodMs: 20,
      armAngleDeg: 5,
      level: [
        { speedMps: 0, angleDeg: 90 },
        { speedMps: 5, angleDeg: 60 },
        { speedMps: 10, angleDeg: 20 },
        { speedMps: 20, angleDeg: 6 },
      ],
      slew: [
        { speedMps: 0, rateDegPerS: 120 },
        { speedMps: 5, rateDegPerS: 100 },
        { speedMps: 10, rateDegPerS: 80 },
        { speedMps: 20, rateDegPerS: 24 },
      ],
    },
    budget: {
      reactionTimeS: 1,
      detectionTimeS: 0,
      lateralDistanceM: 0.85,
      lateralAccelerationMps2: 3,
      lateralJerkMps3: 5,
      speedMaxMps: 20,
      variants: [],
    },
  };
}

/** An invented van. */
export function sampleHost(): Host {
  return {
    name: 'van',
    massKg: 2100,
    yawInertiaKgm2: 3900,
    wheelbaseM: 3,
    cgToFrontM: 1.35,
    frontStiffnessNPerRad: 120_000,
    rearStiffnessNPerRad: 150_000,
    steeringRatio: 17,
    widthM: 1.9,
  };
}

/** The same guard with small tables of two points and short times, which the solver goes through in seconds. */
export function smallPlan(): AnglePlan {
  const plan = samplePlan();
  Object.assign(plan.steering, {
    level: [
      { speedMps: 0, angleDeg: 4 },
      { speedMps: 20, angleDeg: 2 },
    ],
    slew: [
      { speedMps: 0, rateDegPerS: 20 },
      { speedMps: 20, rateDegPerS: 15 },
    ],
    armAngleDeg: 1,
  } satisfies Partial<ByAngle>);
  Object.assign(plan.handover, { releaseMs: 250, armHoldMs: 200 } satisfies Partial<GuardPlan['handover']>);
  plan.handover.driverTorque!.forMs = 60;
  return plan;
}

/** Three channels and every condition there is, with small tables. */
export function fullPlan(): GuardPlan {
  const plan: GuardPlan = smallPlan();
  const output = (message: string) => ({ bus: 'donor', message });
  plan.handover.driverActs = [
    { name: 'brake pedal', signal: signal('Pedals', 'Brake pressed'), forMs: 20 },
    { name: 'accelerator', signal: signal('Pedals', 'Accelerator pressed'), forMs: 60 },
  ];
  plan.handover.agreement = [
    {
      name: 'wheel speed and engine speed',
      first: signal('Speed', 'Speed'),
      second: signal('Engine', 'Speed by gear'),
      unit: 'm/s',
      differBy: 1.5,
      forMs: 100,
    },
  ];
  plan.handover.supply = { signal: signal('Supply', 'Voltage'), lowV: 10.5, highV: 15.5, forMs: 60 };
  plan.braking = {
    by: 'pressure',
    command: signal('Command', 'Pressure'),
    output: output('Brake order'),
    outputOrder: 'Pressure',
    outputActive: 'Active',
    outputPeriodMs: 20,
    level: [
      { speedMps: 0, pressureBar: 40 },
      { speedMps: 20, pressureBar: 30 },
    ],
    slew: [
      { speedMps: 0, rateBarPerS: 60 },
      { speedMps: 20, rateBarPerS: 40 },
    ],
    decelerationPerBarMps2: 0.08,
  };
  plan.drive = {
    by: 'pedal',
    command: signal('Command', 'Pedal'),
    output: output('Pedal voltages'),
    outputActive: 'Splice closed',
    outputPeriodMs: 10,
    tracks: [
      { signal: 'Track 1', restV: 0.75, fullV: 3.9 },
      { signal: 'Track 2', restV: 0.375, fullV: 1.95 },
    ],
    windowV: 0.05,
    level: [
      { speedMps: 0, pedalPercent: 25 },
      { speedMps: 20, pedalPercent: 35 },
    ],
    slew: [
      { speedMps: 0, ratePercentPerS: 30 },
      { speedMps: 20, ratePercentPerS: 40 },
    ],
    accelerationPerPercentMps2: 0.05,
  };
  plan.budget.following = { gapS: 1.2, reactionTimeS: 1, decelerationMps2: 6, jerkMps3: 5 };
  plan.budget.drive = { speedGainMps: 2, distanceM: 3, brakingMps2: 4, jerkMps3: 2.5 };
  return plan;
}

/** The full plan with a radio remote for the bench. */
export function remotePlan(): GuardPlan {
  const plan = fullPlan();
  plan.remote = {
    selected: { name: 'remote switch', active: 'high' },
    link: signal('Receiver', 'Link'),
    ageMs: 100,
    speedMaxMps: 2,
    sharePercent: 20,
    steering: signal('Receiver', 'Wheel'),
    braking: signal('Receiver', 'Brake'),
    drive: signal('Receiver', 'Throttle'),
  };
  return plan;
}

/** The full plan with the order kept near the path of the road. */
export function pathPlan(): GuardPlan {
  const plan = fullPlan();
  (plan.steering as ByAngle).path = {
    angle: signal('Road', 'Path angle'),
    within: [
      { speedMps: 0, angleDeg: 2 },
      { speedMps: 20, angleDeg: 1 },
    ],
  };
  return plan;
}
