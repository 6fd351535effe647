/** The single-track model and its steady state against published values. */
import { describe, expect, test } from 'vitest';
import type { Host } from '../../src/car/model.ts';
import {
  type InputLimits,
  Integrator,
  kinematicModel,
  type SingleTrackCar,
  singleTrackCar,
  singleTrackModel,
} from '../../src/car/singleTrack.ts';
import {
  lateralAccelerationGain,
  lateralModes,
  sideslipGain,
  staticMargin,
  steeringForRadius,
  steeringSpeed,
  understeerGradient,
  yawRateGain,
} from '../../src/car/steady.ts';

/**
 * Parameter set 2 of Althoff & Würsching, "CommonRoad: Vehicle Models", 2020a, built from its US units so that 14 digits
 * agree; set and expected values as in the unit tests of the accompanying code (test_derivatives.py,
 * test_zeroInitialVelocity.py). Height of the sprung mass, not of the centre of gravity: the code uses the former.
 */
const FOOT = 0.3048;
const SLUG = 4.4482216152605 / FOOT;
const SLUG_FT2 = 4.4482216152605 * FOOT;
const FRICTION = 1.0489;
const limits: InputLimits = {
  steeringMaxRad: 1.066,
  steeringRateMaxRadps: 0.4,
  powerSpeedMps: 7.319,
  accelerationMaxMps2: 11.5,
  speedMinMps: -13.6,
  speedMaxMps: 50.8,
};
const SPRUNG_MASS_HEIGHT = 2.01355 * FOOT;
const set2 = (cgHeightM: number): SingleTrackCar => ({
  massKg: 74.91452 * SLUG,
  yawInertiaKgm2: 1321.416 * SLUG_FT2,
  cgToFrontM: 3.793293 * FOOT,
  cgToRearM: 4.667707 * FOOT,
  cornering: {
    kind: 'load',
    frontPerRad: 21.92 / FRICTION,
    rearPerRad: 21.92 / FRICTION,
    friction: FRICTION,
    cgHeightM,
    gravityMps2: 9.81,
  },
  limits,
});
const INPUT = [0.15, 0.63 * 9.81];
const SINGLE_TRACK_STATE = [
  2.0233348142065677, 0.0041907137716636, 0.0197545248559617, 15.721623633429012, 0.0025857914776859,
  0.0529001056654038, 0.0033012170610298,
];

function run(
  model: ReturnType<typeof kinematicModel>,
  state: number[],
  input: number[],
  steps: number,
): Float64Array {
  const s = Float64Array.from(state);
  const integrator = new Integrator(model, s.length);
  for (let i = 0; i < steps; i++) integrator.step(s, input, 1 / steps);
  return s;
}

function close(found: ArrayLike<number>, expected: number[], tolerance: number): void {
  expect(found.length).toBe(expected.length);
  expected.forEach((value, i) => {
    expect(Math.abs((found[i] as number) - value), `component ${i}: ${found[i]}`).toBeLessThan(tolerance);
  });
}

describe('derivatives of set 2 (Althoff & Würsching 2020a, test_derivatives.py)', () => {
  test('the kinematic model gives the published derivative to 1e-12', () => {
    const out = new Float64Array(5);
    const state = Float64Array.of(
      3.9579422297936526,
      0.0391650102771405,
      0.0378491427211811,
      16.354695786088357,
      0.0294717351052816,
    );
    kinematicModel(set2(SPRUNG_MASS_HEIGHT))(state, INPUT, out);
    close(out, [16.34759359342502, 0.4819314886013121, 0.15, 5.1464424102339752, 0.2401426578627629], 1e-12);
  });

  test('the single-track model gives the published derivative to 1e-12', () => {
    const out = new Float64Array(7);
    singleTrackModel(set2(SPRUNG_MASS_HEIGHT))(Float64Array.from(SINGLE_TRACK_STATE), INPUT, out);
    const expected = [
      15.72135120308624, 0.0925527979719355, 0.15, 5.3536773276413925, 0.0529001056654038, 0.6435589397748606,
      0.0313297971641291,
    ];
    close(out, expected, 1e-12);
  });

  test('the height of the centre of gravity in place of the sprung mass misses by 0.018', () => {
    const out = new Float64Array(7);
    singleTrackModel(set2(0.574))(Float64Array.from(SINGLE_TRACK_STATE), INPUT, out);
    const miss = Math.max(Math.abs(out[5]! - 0.6435589397748606), Math.abs(out[6]! - 0.0313297971641291));
    expect(miss).toBeGreaterThan(0.01);
    expect(miss).toBeLessThan(0.025);
  });
});

describe('one second from rest (Althoff & Würsching 2020a, test_zeroInitialVelocity.py)', () => {
  const kinematic = kinematicModel(set2(SPRUNG_MASS_HEIGHT));
  const singleTrack = singleTrackModel(set2(SPRUNG_MASS_HEIGHT));

  test('braking from rest drives straight backwards in both models', () => {
    const input = [0, -0.7 * 9.81];
    close(run(singleTrack, [0, 0, 0, 0, 0, 0, 0], input, 10_000), [-3.4335, 0, 0, -6.867, 0, 0, 0], 1e-9);
    close(run(kinematic, [0, 0, 0, 0, 0], input, 10_000), [-3.4335, 0, 0, -6.867, 0], 1e-9);
  });

  test('accelerating and steering from rest ends where published', () => {
    const expected = [3.0731976047, 0.2869835398, 0.15, 6.1803, 0.1097747075, 0.3248268063, 0.0697547543];
    close(run(singleTrack, [0, 0, 0, 0, 0, 0, 0], INPUT, 10_000), expected, 1e-4);
    close(
      run(kinematic, [0, 0, 0, 0, 0], INPUT, 10_000),
      [3.0845676868, 0.1484249222, 0.15, 6.1803, 0.1203664469],
      1e-8,
    );
  });

  test('a left curve at 15 m/s ends where an independent integration ends (document §11)', () => {
    const expected = [14.7626395879, 1.9598580417, 0.15, 15, 0.3798144736, 0.8118316049, 0.0245937333];
    close(run(singleTrack, [0, 0, 0, 15, 0, 0, 0], [0.15, 0], 1000), expected, 1e-8);
    close(
      run(kinematic, [0, 0, 0, 15, 0], [0.15, 0], 1000),
      [14.7155507624, 2.1563531036, 0.15, 15, 0.4378760835],
      1e-8,
    );
  });
});

test('equal stiffness per load at both ends steers neutrally', () => {
  const car = set2(SPRUNG_MASS_HEIGHT);
  const wheelbaseM = car.cgToFrontM + car.cgToRearM;
  const perLoad = 21.92 * ((car.massKg * 9.81) / wheelbaseM);
  const host = hostOf({
    massKg: car.massKg,
    wheelbaseM,
    cgToFrontM: car.cgToFrontM,
    frontStiffnessNPerRad: perLoad * car.cgToRearM,
    rearStiffnessNPerRad: perLoad * car.cgToFrontM,
  });
  expect(understeerGradient(host)).toBeCloseTo(0, 15);
});

/** Rajamani, "Vehicle Dynamics and Control", ch. 3 (parameters from memory); results computed independently. */
const rajamani = hostOf({
  massKg: 1573,
  yawInertiaKgm2: 2873,
  cgToFrontM: 1.1,
  wheelbaseM: 2.68,
  frontStiffnessNPerRad: 160_000,
  rearStiffnessNPerRad: 160_000,
});

describe('steady state of the textbook car (Rajamani, Vehicle Dynamics and Control, ch. 3)', () => {
  test('understeer gradient and characteristic speed', () => {
    expect(understeerGradient(rajamani)).toBeCloseTo(0.0017608209, 10);
    expect(understeerGradient(rajamani) * 9.81 * (180 / Math.PI)).toBeCloseTo(0.98971, 4);
    expect(steeringSpeed(rajamani)?.kind).toBe('characteristic');
    expect(steeringSpeed(rajamani)?.speedMps).toBeCloseTo(39.013, 4);
    expect(staticMargin(rajamani)).toBeCloseTo(0.0895522, 7);
  });

  test('gains at 30 m/s and the angle for a radius of 1000 m', () => {
    expect(yawRateGain(rajamani, 30)).toBeCloseTo(7.034428, 6);
    expect(lateralAccelerationGain(rajamani, 30)).toBeCloseTo(211.0329, 4);
    const steer = steeringForRadius(rajamani, 30, 1000);
    expect(steer).toBeCloseTo(0.0042647388, 10);
    expect((sideslipGain(rajamani, 30) * steer * 180) / Math.PI).toBeCloseTo(-0.117553, 6);
  });

  test('eigenvalues at 30 m/s', () => {
    const [first, second] = lateralModes(rajamani, 30);
    expect(first?.real).toBeCloseTo(-6.830762, 6);
    expect(first?.imaginary).toBeCloseTo(5.027824, 6);
    expect(second?.imaginary).toBeCloseTo(-5.027824, 6);
  });

  test('at the characteristic speed the yaw gain is half that of a car without slip', () => {
    const v = steeringSpeed(rajamani)!.speedMps;
    expect(yawRateGain(rajamani, v)).toBeCloseTo(v / rajamani.wheelbaseM / 2, 9);
    expect(steeringForRadius(rajamani, v, 500)).toBeCloseTo((2 * rajamani.wheelbaseM) / 500, 12);
  });

  test('a ramp to 0.010 rad at 0.02 rad/s moves the car aside as computed independently', () => {
    const car = singleTrackModel(singleTrackCar(rajamani));
    const integrator = new Integrator(car, 7);
    const s = Float64Array.of(0, 0, 0, 30, 0, 0, 0);
    const expected = new Map([
      [500, 0.047955],
      [1000, 0.438357],
      [1500, 1.34778],
      [2000, 2.78345],
      [2500, 4.743247],
    ]);
    for (let ms = 1; ms <= 2500; ms++) {
      integrator.step(s, [ms <= 500 ? 0.02 : 0, 0], 0.001);
      const y = expected.get(ms);
      if (y !== undefined) expect(Math.abs(s[1]! - y), `y after ${ms} ms: ${s[1]}`).toBeLessThan(1e-6);
    }
    expect(s[5]).toBeCloseTo(0.070344, 5);
    expect(s[6]).toBeCloseTo(-0.004811, 5);
  });
});

/** Abe, "Vehicle Handling Dynamics", example set; parameters in github.com/yuya-onozuka/automotive_vehicle_dynamics, E3_7.m, E3_8.m. Stiffness per tyre. */
function abe(front: number, rear: number): Host {
  return hostOf({
    massKg: 1500,
    yawInertiaKgm2: 2500,
    cgToFrontM: 1.1,
    wheelbaseM: 2.7,
    frontStiffnessNPerRad: 2 * front,
    rearStiffnessNPerRad: 2 * rear,
  });
}

describe('understeering, neutral and oversteering example cars (Abe, Vehicle Handling Dynamics)', () => {
  test('understeering: characteristic speed, yaw gain and poles at 100 km/h', () => {
    const host = abe(55_000, 60_000);
    expect(understeerGradient(host) / 2.7).toBeCloseTo(0.0011067465, 9);
    expect(steeringSpeed(host)?.speedMps).toBeCloseTo(30.0591, 4);
    expect(yawRateGain(host, 100 / 3.6)).toBeCloseTo(5.549205, 6);
    const [pole] = lateralModes(host, 100 / 3.6);
    expect(pole?.real).toBeCloseTo(-5.93016, 5);
    expect(pole?.imaginary).toBeCloseTo(5.146805, 5);
    expect(staticMargin(host)).toBeCloseTo(0.1143317, 5);
  });

  test('neutral: the stability factor is next to nothing', () => {
    expect(understeerGradient(abe(68_150, 46_850)) / 2.7).toBeCloseTo(-1.6e-7, 7);
  });

  test('oversteering: a critical speed and real poles at 100 km/h', () => {
    const host = abe(72_500, 42_500);
    expect(understeerGradient(host) / 2.7).toBeCloseTo(-3.923238e-4, 9);
    expect(steeringSpeed(host)?.kind).toBe('critical');
    expect(steeringSpeed(host)?.speedMps).toBeCloseTo(50.48678, 4);
    const [slow, fast] = lateralModes(host, 100 / 3.6);
    expect(slow).toEqual({ real: expect.closeTo(-2.492259, 5), imaginary: 0 });
    expect(fast).toEqual({ real: expect.closeTo(-8.687661, 5), imaginary: 0 });
    expect(lateralAccelerationGain(host, 51)).toBe(Number.POSITIVE_INFINITY);
  });
});

test('the textbook sedan of Wong, Theory of Ground Vehicles, ex. 5.1 (from memory): 0.0160 rad/g and 41.5 m/s', () => {
  const weight = 20_105;
  const wheelbaseM = 2.8;
  const wong = (front: number) =>
    hostOf({
      massKg: weight / 9.81,
      wheelbaseM,
      cgToFrontM: wheelbaseM * 0.465,
      frontStiffnessNPerRad: 2 * front,
      rearStiffnessNPerRad: 2 * 38_250,
    });
  expect(understeerGradient(wong(38_920)) * 9.81).toBeCloseTo(0.015976, 5);
  expect(steeringSpeed(wong(38_920))?.speedMps).toBeCloseTo(41.46, 1);
  expect(understeerGradient(wong(47_820)) * 9.81).toBeCloseTo(-0.0097416, 6);
  expect(steeringSpeed(wong(47_820))?.speedMps).toBeCloseTo(53.1, 1);
});

test('the turning angle without slip of Gillespie, Fundamentals of Vehicle Dynamics, ch. 6 ex. 1 (from memory)', () => {
  const host = hostOf({ wheelbaseM: 100.6 * 0.0254 });
  const degrees = (feet: number) => (steeringForRadius(host, 0, feet * FOOT) * 180) / Math.PI;
  expect(degrees(500)).toBeCloseTo(0.960659, 6);
  expect(degrees(50)).toBeCloseTo(9.606592, 5);
});

function hostOf(part: Partial<Host>): Host {
  return {
    name: 'textbook car',
    massKg: 1500,
    yawInertiaKgm2: 2500,
    wheelbaseM: 2.7,
    cgToFrontM: 1.2,
    frontStiffnessNPerRad: 100_000,
    rearStiffnessNPerRad: 100_000,
    steeringRatio: 16,
    widthM: 1.8,
    ...part,
  };
}
