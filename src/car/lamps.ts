/** When a car's lamps tell of its braking. Deceleration in m/s², speed in m/s. */

/**
 * Stop lamps while the car slows by regenerative braking as the accelerator is let go: up to 0.7 m/s² they shall stay off,
 * up to 1.3 m/s² they may be lit, above they shall be (UN R13-H, 5.2.22.4).
 */
export function stopLamps(decelerationMps2: number): 'off' | 'either' | 'lit' {
  if (decelerationMps2 <= 0.7) return 'off';
  return decelerationMps2 <= 1.3 ? 'either' : 'lit';
}

/**
 * Emergency stop signal: begins above 6 m/s² and 50 km/h, and ends at the latest below 2.5 m/s² (UN R13-H, 5.2.23).
 * `before`: whether it was given in the step before.
 */
export function emergencyStopSignal(before: boolean, decelerationMps2: number, speedMps: number): boolean {
  if (before) return decelerationMps2 >= 2.5;
  return decelerationMps2 > 6 && speedMps * 3.6 > 50;
}
