/** A guard plan for tests; invented figures. */
import type { Host } from '../../src/car/model.ts';
import type { GuardPlan } from '../../src/guard/model.ts';

const signal = (message: string, name: string) => ({ bus: 'van', message, signal: name });

export function samplePlan(): GuardPlan {
  return {
    form: 'guard/1',
    armInput: { name: 'hand-over button', active: 'high' },
    stopInput: { name: 'stop', active: 'low' },
    steering: {
      command: signal('Command', 'Angle'),
      request: signal('Command', 'Request'),
      speed: signal('Speed', 'Speed'),
      angle: signal('Wheel', 'Angle'),
      driverTorque: signal('Wheel', 'Torque'),
      output: { bus: 'donor', message: 'Order' },
      outputAngle: 'Angle',
      outputActive: 'Active',
      outputPeriodMs: 20,
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
      commandAgeMs: 100,
      sensorAgeMs: 100,
      releaseMs: 1000,
      overrideTorqueNm: 3,
      overrideMs: 100,
      armHoldMs: 500,
      armAngleDeg: 5,
    },
    budget: {
      reactionTimeS: 1,
      detectionTimeS: 0,
      lateralDistanceM: 0.85,
      lateralAccelerationMps2: 3,
      lateralJerkMps3: 5,
      speedMaxMps: 20,
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
export function smallPlan(): GuardPlan {
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
    releaseMs: 250,
    armHoldMs: 200,
    armAngleDeg: 1,
    overrideMs: 60,
  } satisfies Partial<GuardPlan['steering']>);
  return plan;
}
