import { expect, test } from 'vitest';
import {
  type InputLimits,
  Integrator,
  kinematicModel,
  lateralAcceleration,
  type SingleTrackCar,
  singleTrackCar,
  singleTrackModel,
} from '../../src/car/singleTrack.ts';
import { lateralAccelerationGain } from '../../src/car/steady.ts';
import { sampleHost } from '../guard/plan.ts';

const limits: InputLimits = {
  steeringMaxRad: 0.5,
  steeringRateMaxRadps: 0.4,
  powerSpeedMps: 5,
  accelerationMaxMps2: 8,
  speedMinMps: -10,
  speedMaxMps: 40,
};

test('the wheel stops at its end stop and turns no faster than it can', () => {
  const model = kinematicModel({ ...singleTrackCar(sampleHost()), limits });
  const rate = (steer: number, asked: number) => derivative(model, [0, 0, steer, 10, 0], [asked, 0])[2];
  expect(rate(0, 1)).toBe(0.4);
  expect(rate(0, -1)).toBe(-0.4);
  expect(rate(0.5, 0.1)).toBe(0);
  expect(rate(0.5, -0.1)).toBe(-0.1);
  expect(rate(-0.5, -0.1)).toBe(0);
});

test('above the power speed a car accelerates less as it goes faster, and brakes as before', () => {
  const model = kinematicModel({ ...singleTrackCar(sampleHost()), limits });
  const acceleration = (v: number, asked: number) => derivative(model, [0, 0, 0, v, 0], [0, asked])[3];
  expect(acceleration(4, 20)).toBe(8);
  expect(acceleration(20, 20)).toBe((8 * 5) / 20);
  expect(acceleration(20, -20)).toBe(-8);
  expect(acceleration(40, 1)).toBe(0);
  expect(acceleration(-10, -1)).toBe(0);
});

test('the form with load and the form with axle stiffness agree for the same stiffness', () => {
  const host = sampleHost();
  const car = singleTrackCar(host);
  const perMetre = (host.massKg * 9.81) / host.wheelbaseM;
  const byLoad: SingleTrackCar = {
    ...car,
    cornering: {
      kind: 'load',
      frontPerRad: host.frontStiffnessNPerRad / (perMetre * car.cgToRearM),
      rearPerRad: host.rearStiffnessNPerRad / (perMetre * car.cgToFrontM),
      friction: 1,
      cgHeightM: 0.7,
      gravityMps2: 9.81,
    },
  };
  const moving = [0, 0, 0.02, 15, 0.1, 0.05, -0.01];
  const expected = derivative(singleTrackModel(car), moving, [0.1, 0]);
  derivative(singleTrackModel(byLoad), moving, [0.1, 0]).forEach((value, i) => {
    expect(value).toBeCloseTo(expected[i]!, 12);
  });
});

test('a held angle ends in the steady turn that the gains give', () => {
  const host = sampleHost();
  const model = singleTrackModel(singleTrackCar(host));
  const integrator = new Integrator(model, 7);
  const state = Float64Array.of(0, 0, 0.01, 20, 0, 0, 0);
  for (let i = 0; i < 5000; i++) integrator.step(state, [0, 0], 0.001);
  const ay = lateralAcceleration(state, Float64Array.from(derivative(model, [...state], [0, 0])));
  expect(ay).toBeCloseTo(0.01 * lateralAccelerationGain(host, 20), 9);
});

test('halving the step divides the error of the integrator by about sixteen', () => {
  const host = sampleHost();
  const end = (steps: number) => {
    const integrator = new Integrator(singleTrackModel(singleTrackCar(host)), 7);
    const state = Float64Array.of(0, 0, 0.02, 20, 0, 0, 0);
    for (let i = 0; i < steps; i++) integrator.step(state, [0.05, 1], 1 / steps);
    return state[1]!;
  };
  const exact = end(4096);
  const ratio = Math.abs(end(32) - exact) / Math.abs(end(64) - exact);
  expect(ratio).toBeGreaterThan(13);
  expect(ratio).toBeLessThan(20);
});

test('below 0.1 m/s the kinematic model takes over and nothing divides by zero', () => {
  const model = singleTrackModel(singleTrackCar(sampleHost()));
  for (const v of [0, 0.05, -0.05]) {
    for (const value of derivative(model, [0, 0, 0.3, v, 0.2, 5, 5], [0.2, 1]))
      expect(Number.isFinite(value)).toBe(true);
  }
});

function derivative(model: ReturnType<typeof kinematicModel>, state: number[], input: number[]): number[] {
  const out = new Float64Array(state.length);
  model(Float64Array.from(state), input, out);
  return [...out];
}
