/**
 * Authority formulas against worked tables. V3.1, V3.2 and V3.3 are tables computed from the formulas named there with the
 * reaction times of published driver studies (named on each row); they check our arithmetic against an independent one.
 */
import { expect, test } from 'vitest';
import { lateralAccelerationGain, understeerGradient } from '../../src/car/index.ts';
import {
  largestBelow,
  rampAllowance,
  rampMotion,
  stepAllowance,
  stepExcursionM,
} from '../../src/guard/budget/runaway.ts';

/** L 2.65 m, K 0.0021 rad per m/s², steering ratio 15.3: the car of the worked tables. */
const host = {
  name: 'car of the tables',
  massKg: 1000,
  yawInertiaKgm2: 1500,
  wheelbaseM: 2.65,
  cgToFrontM: 1.2,
  // K = (m/L)(lr/Cf − lf/Cr) = 0.0021 with Cr = 150,000 N/rad.
  frontStiffnessNPerRad: 1.45 / (0.0021 * 2.65e-3 + 1.2 / 150_000),
  rearStiffnessNPerRad: 150_000,
  steeringRatio: 15.3,
  widthM: 1.8,
};
const toWheelDeg = (roadWheelRad: number) => (roadWheelRad * 15.3 * 180) / Math.PI;

test('the car of the tables has the understeer gradient that they state', () => {
  expect(understeerGradient(host)).toBeCloseTo(0.0021, 12);
});

test('a lateral acceleration that rises with 5 m/s³ to 3 m/s² moves the car as in table V3.1', () => {
  // Bounds of ISO 11270:2014, 5.4; times and positions as tabulated.
  const rows = [
    [0.25, 0.013021, 0.15625],
    [0.5, 0.104167, 0.625],
    [0.6, 0.18, 0.9],
    [1.0, 0.78, 2.1],
    [1.5, 2.205, 3.6],
    [2.0, 4.38, 5.1],
    [2.5, 7.305, 6.6],
  ] as const;
  for (const [t, y, vy] of rows) {
    expect(rampMotion(3, 5, t).y).toBeCloseTo(y, 6);
    expect(rampMotion(3, 5, t).vy).toBeCloseTo(vy, 6);
  }
});

test('the acceleration allowed by distance and reaction time, and its wheel angle, are those of table V3.2', () => {
  const rows: [number, number, number, [number, number, number, number]][] = [
    [0.65, 2.2843, 1.7819, [31.71, 14.95, 11.08, 8.98]], // Loeb et al., SAE 2021-01-0861: all who reacted by then avoided
    [0.9, 1.4234, 1.0874, [19.76, 9.32, 6.91, 5.6]], // Loeb et al., SAE 2021-01-0861: all later than this crashed
    [1.0, 1.2111, 0.9187, [16.81, 7.93, 5.88, 4.76]], // common practice, no source: working value, hands on
    [1.18, 0.9316, 0.699, [12.93, 6.1, 4.52, 3.66]], // Paula et al., Sensors 2023, 23(24) 9785: lower end
    [1.74, 0.4836, 0.3545, [6.71, 3.16, 2.35, 1.9]], // Paula et al., Sensors 2023, 23(24) 9785: upper end
    [3.7, 0.1194, 0.0852, [1.66, 0.78, 0.58, 0.47]], // Hussain, Large & Harvey: silent failure, hands on
    [8.5, 0.0233, 0.0165, [0.32, 0.15, 0.11, 0.09]], // Hussain, Large & Harvey: silent failure, hands off
  ];
  for (const [time, at85, at60, angles] of rows) {
    expect(stepAllowance(0.85, time)).toBeCloseTo(at85, 4);
    expect(stepAllowance(0.6, time)).toBeCloseTo(at60, 4);
    expect(stepExcursionM(stepAllowance(0.85, time), time)).toBeCloseTo(0.85, 12);
    [50, 80, 100, 120].forEach((kmh, i) => {
      const wheel = toWheelDeg(stepAllowance(0.85, time) / lateralAccelerationGain(host, kmh / 3.6));
      expect(Math.abs(wheel - angles[i]!)).toBeLessThan(0.0051);
    });
  }
});

test('with a ramp of 5 m/s³ in place of a step the allowed accelerations are those under table V3.2', () => {
  const rows = [
    [1.0, 1.5584],
    [1.5, 0.6758],
    [1.74, 0.5093],
    [2.5, 0.2558],
  ] as const;
  for (const [time, a] of rows) expect(rampAllowance(0.85, 5, time, 3)).toBeCloseTo(a, 4);
});

test('wheel angle for 3 m/s² and wheel rate for 5 m/s³ over speed are those of table V3.3', () => {
  // Bounds of ISO 11270:2014, 5.4: 3 m/s², 5 m/s³.
  const rows = [
    [18, 9.251, 284.29, 473.82],
    [30, 24.839, 105.88, 176.46],
    [50, 63.141, 41.65, 69.42],
    [80, 133.936, 19.64, 32.73],
    [100, 180.688, 14.55, 24.26],
    [120, 222.965, 11.79, 19.66],
    [130, 242.002, 10.87, 18.11],
  ] as const;
  for (const [kmh, gain, level, rate] of rows) {
    const g = lateralAccelerationGain(host, kmh / 3.6);
    expect(Math.abs(g - gain)).toBeLessThan(0.00051);
    expect(Math.abs(toWheelDeg(3 / g) - level)).toBeLessThan(0.0051);
    expect(Math.abs(toWheelDeg(5 / g) - rate)).toBeLessThan(0.0051);
  }
});

test('a runaway of the steering at 100 km/h reaches what the worked table 3.4 says', () => {
  // Computed table "runaway and detection time": wheel rate °/s, detection s, wheel °, m/s², yaw °/s, excursion m, longest hold s.
  const rows = [
    [400, 0.02, 8, 1.649, 3.4, 1.252, 0.816],
    [400, 0.05, 20, 4.122, 8.5, 4.652, 0.417],
    [400, 0.1, 40, 8.245, 17.01, 13.9, 0.235],
    [200, 0.1, 20, 4.122, 8.5, 4.418, 0.417],
    [50, 0.1, 5, 1.031, 2.13, 0.625, 1.108],
  ] as const;
  const speed = 100 / 3.6;
  const gain = lateralAccelerationGain(host, speed);
  for (const [rate, detected, wheel, ay, yaw, excursion, hold] of rows) {
    expect(rate * detected).toBeCloseTo(wheel, 9);
    const a = (gain * wheel) / toWheelDeg(1);
    expect(Math.abs(a - ay)).toBeLessThan(0.00051);
    expect(Math.abs(((a / speed) * 180) / Math.PI - yaw)).toBeLessThan(0.0051);
    const away = (time: number) => {
      const { y, vy } = rampMotion(a, a / detected, time);
      return y + vy ** 2 / 6;
    };
    expect(Math.abs(away(1) - excursion)).toBeLessThan(excursion > 10 ? 0.051 : 0.00051);
    // The longest hold is counted as if the angle were there at once.
    expect(Math.abs(largestBelow((time) => stepExcursionM(a, time) <= 0.85, 5) - hold)).toBeLessThan(0.00051);
  }
});

test('3 m/s² is reached at 400 °/s in 0.104, 0.0364 and 0.0295 s at 50, 100 and 120 km/h (table 3.4)', () => {
  const rows = [
    [50, 0.104],
    [100, 0.0364],
    [120, 0.0295],
  ] as const;
  for (const [kmh, time] of rows) {
    const level = toWheelDeg(3 / lateralAccelerationGain(host, kmh / 3.6));
    expect(Math.abs(level / 400 - time)).toBeLessThan(kmh === 50 ? 0.00051 : 0.000051);
  }
});
