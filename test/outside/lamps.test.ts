/** Stop lamps and emergency stop signal against UN R13-H (passenger-car braking), Revision 4. */
import { expect, test } from 'vitest';
import { emergencyStopSignal, stopLamps } from '../../src/car/lamps.ts';

test('regenerative braking: off up to 0.7 m/s², either up to 1.3 m/s², lit above', () => {
  // UN R13-H, 5.2.22.4: ≤ 0.7 shall not; > 0.7 and ≤ 1.3 may; > 1.3 shall.
  expect([0, 0.7, 0.71, 1.3, 1.31, 5].map(stopLamps)).toEqual([
    'off',
    'off',
    'either',
    'either',
    'lit',
    'lit',
  ]);
});

test('the emergency stop signal begins above 6 m/s² and 50 km/h and ends below 2.5 m/s²', () => {
  // UN R13-H, 5.2.23: > 6 m/s² and > 50 km/h; off below 2.5 m/s².
  expect(emergencyStopSignal(false, 6, 60 / 3.6)).toBe(false);
  expect(emergencyStopSignal(false, 6.01, 50 / 3.6)).toBe(false);
  expect(emergencyStopSignal(false, 6.01, 50.1 / 3.6)).toBe(true);
  expect(emergencyStopSignal(true, 2.5, 10 / 3.6)).toBe(true);
  expect(emergencyStopSignal(true, 2.49, 60 / 3.6)).toBe(false);
});
