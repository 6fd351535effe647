/**
 * Kinematic and linear single-track model of a car, and a fixed-step integrator without allocation.
 * Source: Althoff & Würsching, "CommonRoad: Vehicle Models", version 2020a, eqs (1)–(13).
 */
import type { Host } from './model.ts';

/** How hard an axle resists slip: a constant of the axle, or in proportion to the load on it. */
export type Cornering =
  | { kind: 'axle'; frontNPerRad: number; rearNPerRad: number }
  /** Stiffness = friction × coefficient × vertical load; the load moves between the axles with acceleration. */
  | {
      kind: 'load';
      frontPerRad: number;
      rearPerRad: number;
      friction: number;
      cgHeightM: number;
      gravityMps2: number;
    };

/** What the car's drive and steering can do, eqs (1)–(5). */
export interface InputLimits {
  steeringMaxRad: number;
  steeringRateMaxRadps: number;
  /** Above this speed the acceleration falls as speed rises, because power is limited. */
  powerSpeedMps: number;
  accelerationMaxMps2: number;
  speedMinMps: number;
  speedMaxMps: number;
}

export interface SingleTrackCar {
  massKg: number;
  yawInertiaKgm2: number;
  cgToFrontM: number;
  cgToRearM: number;
  cornering: Cornering;
  /** Without them every input is taken as it is. */
  limits?: InputLimits;
}

/** Inputs of both models: rate of the road wheel angle (rad/s), longitudinal acceleration (m/s²). */
export type DriveInput = ArrayLike<number>;

/** Writes the derivative of `state` under `input` into `out`. */
export type Derivative = (state: Float64Array, input: DriveInput, out: Float64Array) => void;

/** Positions in the state of the kinematic model; the single-track model has two more. Metres, radians, m/s, rad/s. */
export const X = 0;
export const Y = 1;
export const STEER = 2;
export const SPEED = 3;
export const YAW = 4;
export const YAW_RATE = 5;
/** Sideslip angle at the centre of gravity. */
export const SIDESLIP = 6;

/** Below this speed the single-track model divides by almost nothing; the kinematic one takes over. */
export const KINEMATIC_BELOW_MPS = 0.1;

/** The car of a build, with its axle stiffnesses and without input limits. */
export function singleTrackCar(host: Host): SingleTrackCar {
  return {
    massKg: host.massKg,
    yawInertiaKgm2: host.yawInertiaKgm2,
    cgToFrontM: host.cgToFrontM,
    cgToRearM: host.wheelbaseM - host.cgToFrontM,
    cornering: {
      kind: 'axle',
      frontNPerRad: host.frontStiffnessNPerRad,
      rearNPerRad: host.rearStiffnessNPerRad,
    },
  };
}

/** Kinematic model, reference point on the rear axle: x, y, road wheel angle, speed, yaw. No tyre slips. */
export function kinematicModel(car: SingleTrackCar): Derivative {
  const wheelbase = car.cgToFrontM + car.cgToRearM;
  return (state, input, out) => {
    const v = state[SPEED]!;
    out[X] = v * Math.cos(state[YAW]!);
    out[Y] = v * Math.sin(state[YAW]!);
    out[STEER] = limitedRate(car.limits, state[STEER]!, input[0]!);
    out[SPEED] = limitedAcceleration(car.limits, v, input[1]!);
    out[YAW] = (v / wheelbase) * Math.tan(state[STEER]!);
  };
}

/**
 * Linear single-track model, reference point at the centre of gravity: x, y, road wheel angle, speed, yaw, yaw rate,
 * sideslip. Valid while slip angles stay linear, up to about 4 m/s² on a dry road; kinematic below 0.1 m/s.
 */
export function singleTrackModel(car: SingleTrackCar): Derivative {
  const { massKg: m, yawInertiaKgm2: inertia, cgToFrontM: lf, cgToRearM: lr, cornering } = car;
  const wheelbase = lf + lr;
  return (state, input, out) => {
    const steer = state[STEER]!;
    const v = state[SPEED]!;
    const rate = limitedRate(car.limits, steer, input[0]!);
    const a = limitedAcceleration(car.limits, v, input[1]!);
    out[STEER] = rate;
    out[SPEED] = a;
    if (Math.abs(v) < KINEMATIC_BELOW_MPS) {
      const tan = Math.tan(steer);
      const cos2 = Math.cos(steer) ** 2;
      const slip = Math.atan((tan * lr) / wheelbase);
      const slipRate = (lr * rate) / (wheelbase * cos2 * (1 + ((tan * lr) / wheelbase) ** 2));
      out[X] = v * Math.cos(state[YAW]! + slip);
      out[Y] = v * Math.sin(state[YAW]! + slip);
      out[YAW] = (v * Math.cos(slip) * tan) / wheelbase;
      out[YAW_RATE] =
        (a * Math.cos(slip) * tan -
          v * Math.sin(slip) * slipRate * tan +
          (v * Math.cos(slip) * rate) / cos2) /
        wheelbase;
      out[SIDESLIP] = slipRate;
      return;
    }
    let front: number;
    let rear: number;
    if (cornering.kind === 'axle') {
      front = cornering.frontNPerRad;
      rear = cornering.rearNPerRad;
    } else {
      const { friction, gravityMps2: g, cgHeightM: h } = cornering;
      front = (friction * cornering.frontPerRad * m * (g * lr - a * h)) / wheelbase;
      rear = (friction * cornering.rearPerRad * m * (g * lf + a * h)) / wheelbase;
    }
    const yawRate = state[YAW_RATE]!;
    const slip = state[SIDESLIP]!;
    out[X] = v * Math.cos(state[YAW]! + slip);
    out[Y] = v * Math.sin(state[YAW]! + slip);
    out[YAW] = yawRate;
    out[YAW_RATE] =
      (lf * front * steer +
        (lr * rear - lf * front) * slip -
        ((lf * lf * front + lr * lr * rear) * yawRate) / v) /
      inertia;
    out[SIDESLIP] =
      (front * steer - (front + rear) * slip + ((lr * rear - lf * front) * yawRate) / v) / (m * v) - yawRate;
  };
}

/** Lateral acceleration of the centre of gravity in a steady turn plus that of changing sideslip, v(ψ̇ + β̇), m/s². */
export function lateralAcceleration(state: Float64Array, derivative: Float64Array): number {
  return state[SPEED]! * (state[YAW_RATE]! + derivative[SIDESLIP]!);
}

/** Fourth-order Runge–Kutta with a fixed step; keeps its work arrays, so a step allocates nothing. */
export class Integrator {
  readonly #derivative: Derivative;
  readonly #k1: Float64Array;
  readonly #k2: Float64Array;
  readonly #k3: Float64Array;
  readonly #k4: Float64Array;
  readonly #at: Float64Array;

  constructor(derivative: Derivative, size: number) {
    this.#derivative = derivative;
    this.#k1 = new Float64Array(size);
    this.#k2 = new Float64Array(size);
    this.#k3 = new Float64Array(size);
    this.#k4 = new Float64Array(size);
    this.#at = new Float64Array(size);
  }

  /** Moves `state` on by `dtS` seconds under a constant input. */
  step(state: Float64Array, input: DriveInput, dtS: number): void {
    const [k1, k2, k3, k4, at] = [this.#k1, this.#k2, this.#k3, this.#k4, this.#at];
    this.#derivative(state, input, k1);
    for (let i = 0; i < at.length; i++) at[i] = state[i]! + (dtS / 2) * k1[i]!;
    this.#derivative(at, input, k2);
    for (let i = 0; i < at.length; i++) at[i] = state[i]! + (dtS / 2) * k2[i]!;
    this.#derivative(at, input, k3);
    for (let i = 0; i < at.length; i++) at[i] = state[i]! + dtS * k3[i]!;
    this.#derivative(at, input, k4);
    for (let i = 0; i < at.length; i++)
      state[i] = state[i]! + (dtS / 6) * (k1[i]! + 2 * k2[i]! + 2 * k3[i]! + k4[i]!);
  }
}

/** Eqs (1)–(2): the wheel stops at its end stops and turns no faster than it can. */
function limitedRate(limits: InputLimits | undefined, steer: number, rate: number): number {
  if (!limits) return rate;
  const { steeringMaxRad: stop, steeringRateMaxRadps: fastest } = limits;
  if ((steer <= -stop && rate <= 0) || (steer >= stop && rate >= 0)) return 0;
  return Math.max(-fastest, Math.min(fastest, rate));
}

/** Eqs (3)–(5): no acceleration beyond power, grip and the range of speeds. */
function limitedAcceleration(limits: InputLimits | undefined, v: number, a: number): number {
  if (!limits) return a;
  const { powerSpeedMps, accelerationMaxMps2: most } = limits;
  if ((v <= limits.speedMinMps && a <= 0) || (v >= limits.speedMaxMps && a >= 0)) return 0;
  const drive = v > powerSpeedMps ? (most * powerSpeedMps) / v : most;
  return Math.max(-most, Math.min(drive, a));
}
