/**
 * What the linear single-track model does in a steady turn. Axle stiffness: both tyres of the axle together.
 * Source of the relations: Rajamani, "Vehicle Dynamics and Control", ch. 3; Wong, "Theory of Ground Vehicles", ch. 5.
 */
import type { Host } from './model.ts';

/** Understeer gradient K in rad per m/s²: K = (m/L)(lr/Cf − lf/Cr). Below 0 the car oversteers. */
export function understeerGradient(host: Host): number {
  const { massKg: m, wheelbaseM: length, cgToFrontM: lf } = host;
  const lr = length - lf;
  return (m / length) * (lr / host.frontStiffnessNPerRad - lf / host.rearStiffnessNPerRad);
}

/**
 * The speed that tells how a car steers, m/s: `characteristic` √(L/K) of an understeering car, where the yaw gain is
 * greatest; `critical` √(−L/K) of an oversteering one, above which it does not run straight by itself; none for a
 * neutral one.
 */
export function steeringSpeed(host: Host): { kind: 'characteristic' | 'critical'; speedMps: number } | null {
  const k = understeerGradient(host);
  if (Math.abs(k) < 1e-12) return null;
  const speedMps = Math.sqrt(host.wheelbaseM / Math.abs(k));
  return { kind: k > 0 ? 'characteristic' : 'critical', speedMps };
}

/** True where the car runs straight by itself: below the critical speed, or with none. */
export function isStable(host: Host, speedMps: number): boolean {
  return host.wheelbaseM + understeerGradient(host) * speedMps ** 2 > 0;
}

/** Lateral acceleration per road wheel angle, m/s² per rad: v²/(L + K·v²). Infinite at and above the critical speed. */
export function lateralAccelerationGain(host: Host, speedMps: number): number {
  const denominator = host.wheelbaseM + understeerGradient(host) * speedMps ** 2;
  return denominator > 0 ? speedMps ** 2 / denominator : Number.POSITIVE_INFINITY;
}

/** Yaw rate per road wheel angle, 1/s: v/(L + K·v²). Infinite at and above the critical speed. */
export function yawRateGain(host: Host, speedMps: number): number {
  const denominator = host.wheelbaseM + understeerGradient(host) * speedMps ** 2;
  return denominator > 0 ? speedMps / denominator : Number.POSITIVE_INFINITY;
}

/** Sideslip at the centre of gravity per road wheel angle: (lr − lf·m·v²/(L·Cr))/(L + K·v²). */
export function sideslipGain(host: Host, speedMps: number): number {
  const { massKg: m, wheelbaseM: length, cgToFrontM: lf } = host;
  const slip = (lf * m * speedMps ** 2) / (length * host.rearStiffnessNPerRad);
  return (length - lf - slip) / (length + understeerGradient(host) * speedMps ** 2);
}

/** Road wheel angle for a turn of `radiusM` at `speedMps`, rad: L/R + K·v²/R. */
export function steeringForRadius(host: Host, speedMps: number, radiusM: number): number {
  return (host.wheelbaseM + understeerGradient(host) * speedMps ** 2) / radiusM;
}

/** (lr·Cr − lf·Cf)/(L·(Cf + Cr)): how far behind the centre of gravity side forces act, as a share of the wheelbase. */
export function staticMargin(host: Host): number {
  const {
    wheelbaseM: length,
    cgToFrontM: lf,
    frontStiffnessNPerRad: front,
    rearStiffnessNPerRad: rear,
  } = host;
  return ((length - lf) * rear - lf * front) / (length * (front + rear));
}

/** Roots of the lateral motion at a constant speed, 1/s; two complex ones or two real ones, the slower first. */
export function lateralModes(host: Host, speedMps: number): { real: number; imaginary: number }[] {
  const { massKg: m, yawInertiaKgm2: inertia, wheelbaseM: length, cgToFrontM: lf } = host;
  const { frontStiffnessNPerRad: front, rearStiffnessNPerRad: rear } = host;
  const lr = length - lf;
  const moment = lr * rear - lf * front;
  const a11 = -(lf * lf * front + lr * lr * rear) / (inertia * speedMps);
  const a22 = -(front + rear) / (m * speedMps);
  const half = (a11 + a22) / 2;
  const determinant = a11 * a22 - (moment / inertia) * (moment / (m * speedMps ** 2) - 1);
  const inside = half * half - determinant;
  const root = Math.sqrt(Math.abs(inside));
  return inside < 0
    ? [
        { real: half, imaginary: root },
        { real: half, imaginary: -root },
      ]
    : [
        { real: half + root, imaginary: 0 },
        { real: half - root, imaginary: 0 },
      ];
}
