/** The van along the road: driver, steering, single-track model and pedals, every 2 ms, kept every 10 ms. */
import {
  type Derivative,
  Integrator,
  lateralAcceleration,
  SIDESLIP,
  SPEED,
  STEER,
  singleTrackCar,
  singleTrackModel,
  YAW_RATE,
} from '../../src/car/singleTrack.ts';
import { understeerGradient } from '../../src/car/steady.ts';
import { COAST_MPS2, FULL_ACCELERATION_MPS2, WAGTAIL } from './host.ts';
import { type Random, randomFor } from './random.ts';
import type { Road } from './road.ts';
import { during, type Scenario, SWEEP } from './scenario.ts';

/** Values kept along the time; all in SI units, angles in radians, left and forward positive. */
export const CHANNELS = [
  'distance',
  'speed',
  'acceleration',
  /** Of the road wheels. */
  'steer',
  'steerRate',
  'yawRate',
  'lateralAcceleration',
  'sideslip',
  /** 0 … 1. */
  'accelerator',
  /** Deceleration that the brakes give. */
  'braking',
  /** Distance to what drives ahead, NaN where nothing does, and how fast it grows. */
  'leadGap',
  'leadGapRate',
] as const;

export type Channel = (typeof CHANNELS)[number];

export interface Motion {
  /** Seconds between values. */
  stepS: number;
  values: Record<Channel, Float64Array>;
}

const STEP_S = 0.002;
const KEPT_EVERY = 5;

/** Drives the scenario; the same seed gives the same drive. */
export function drive(road: Road, scenario: Scenario, seed: number): Motion {
  const random = randomFor(seed, `${scenario.capture} driver`);
  const count = Math.round(scenario.durationS / STEP_S);
  const values = Object.fromEntries(
    CHANNELS.map((name) => [name, new Float64Array(Math.floor(count / KEPT_EVERY) + 2)]),
  ) as Record<Channel, Float64Array>;
  const model = singleTrackModel(singleTrackCar(WAGTAIL));
  const pedals = new Pedals(road, scenario, random);
  const steering = new Steering(road, scenario, random);
  const van = new Van(model, scenario);
  let kept = 0;
  for (let i = 0; kept < values.speed.length; i++) {
    const t = i * STEP_S;
    const a = pedals.acceleration(t, van);
    const rate = steering.rate(t, van);
    if (i % KEPT_EVERY === 0) {
      const lead = pedals.lead(t, van);
      values.distance[kept] = van.distance;
      values.speed[kept] = van.state[SPEED]!;
      values.acceleration[kept] = a;
      values.steer[kept] = van.state[STEER]!;
      values.steerRate[kept] = rate;
      values.yawRate[kept] = van.state[YAW_RATE]!;
      values.lateralAcceleration[kept] = van.lateral;
      values.sideslip[kept] = van.state[SIDESLIP]!;
      values.accelerator[kept] = pedals.accelerator(a, van);
      values.braking[kept] = pedals.braking(t, a, van);
      values.leadGap[kept] = lead.gap;
      values.leadGapRate[kept] = lead.rate;
      kept++;
    }
    van.step(road, rate, a);
  }
  return { stepS: STEP_S * KEPT_EVERY, values };
}

/** State of the single-track model, and where it is beside the middle of its lane. */
class Van {
  readonly state = new Float64Array(7);
  distance: number;
  /** Metres left of the middle, and heading against the road's, rad. */
  offset = 0;
  skew = 0;
  lateral = 0;
  readonly #model: Derivative;
  readonly #integrator: Integrator;
  readonly #input = new Float64Array(2);
  readonly #derivative = new Float64Array(7);

  constructor(model: Derivative, scenario: Scenario) {
    this.#model = model;
    this.#integrator = new Integrator(model, 7);
    this.state[SPEED] = scenario.startMps;
    this.distance = scenario.startM;
  }

  step(road: Road, steerRate: number, a: number): void {
    const v = this.state[SPEED]!;
    this.#input[0] = steerRate;
    this.#input[1] = a;
    const kappa = road.curvature(this.distance);
    this.distance += v * STEP_S;
    this.offset += v * Math.sin(this.skew + this.state[SIDESLIP]!) * STEP_S;
    this.#integrator.step(this.state, this.#input, STEP_S);
    this.skew += (this.state[YAW_RATE]! - v * kappa) * STEP_S;
    if (this.state[SPEED]! <= 1e-3 && a <= 0) {
      this.state[SPEED] = 0;
      this.state[YAW_RATE] = 0;
      this.state[SIDESLIP] = 0;
      this.lateral = 0;
      return;
    }
    this.#model(this.state, this.#input, this.#derivative);
    this.lateral = lateralAcceleration(this.state, this.#derivative);
  }
}

/** Keeps to the speeds of the road, to a distance behind what drives ahead, and stops where it should. */
class Pedals {
  readonly #road: Road;
  readonly #scenario: Scenario;
  readonly #random: Random;
  #a = 0;
  #stop = 0;
  #standsUntil = 0;
  #mood = 0;

  constructor(road: Road, scenario: Scenario, random: Random) {
    this.#road = road;
    this.#scenario = scenario;
    this.#random = random;
  }

  acceleration(t: number, van: Van): number {
    const v = van.state[SPEED]!;
    const stop = this.#scenario.stops[this.#stop];
    if (t < this.#scenario.departS || t < this.#standsUntil) return this.#smooth(v > 0 ? -2 : 0, v);
    // No foot holds a speed: it drifts by some 7 % over half a dozen seconds.
    this.#mood += (-this.#mood * STEP_S) / 6 + 0.07 * Math.sqrt((2 * STEP_S) / 6) * this.#random.normal();
    let target = Math.min(
      this.#ahead(van.distance) * (1 + Math.max(-0.2, Math.min(0.1, this.#mood))),
      stop ? Math.sqrt(2 * 1.3 * Math.max(0, stop.atM - van.distance)) : 99,
    );
    const lead = this.lead(t, van);
    if (lead.gap < 60)
      target = Math.min(target, Math.max(0, v + lead.rate + 0.35 * (lead.gap - 5 - 1.6 * v)));
    if (stop && stop.atM - van.distance < 0.4 && v < 1) {
      this.#stop++;
      this.#standsUntil = t + stop.standS;
    }
    return this.#smooth(Math.max(-2.4, Math.min(1.25, 1.1 * (target - v))), v);
  }

  /** Gap to what drives ahead and its rate; NaN where there is nothing. */
  lead(t: number, van: Van): { gap: number; rate: number } {
    const lead = this.#scenario.lead;
    if (!lead || t < lead.joinsAtS) return { gap: Number.NaN, rate: Number.NaN };
    const at = lead.joinsAtM + lead.speedMps * (t - lead.joinsAtS);
    const gap = at - van.distance - 4;
    if (at > lead.leavesAtM || gap > 130 || gap < 0) return { gap: Number.NaN, rate: Number.NaN };
    return { gap, rate: lead.speedMps - van.state[SPEED]! };
  }

  accelerator(a: number, van: Van): number {
    const v = van.state[SPEED]!;
    const drive = a + COAST_MPS2 * Math.min(1, v / 2) + 0.0012 * v * v;
    return v > 0.05 || a > 0.05 ? Math.max(0, Math.min(1, drive / FULL_ACCELERATION_MPS2)) : 0;
  }

  braking(t: number, a: number, van: Van): number {
    const pressed = during(this.#scenario, 'brake pressed', t);
    // Pressed at a standstill, as if for a firm stop; standing otherwise, a foot that keeps the van where it is.
    if (pressed) return 3.6 * Math.min(1, 5 * (t - pressed.startS), 8 * (pressed.endS - t));
    if (van.state[SPEED]! <= 0.02) return t < this.#scenario.departS - 0.6 ? 0 : a > 0 ? 0 : 0.9;
    return Math.max(0, -a - COAST_MPS2);
  }

  /** The lowest speed from which all that is slower ahead can be reached by braking gently. */
  #ahead(s: number): number {
    let least = 99;
    for (let d = 0; d <= 60; d += 3) {
      const limit = this.#road.speed(s + d);
      const from = Math.sqrt(limit * limit + 2 * 1.2 * d);
      if (from < least) least = from;
    }
    return least;
  }

  /** A foot changes its mind over a quarter of a second. */
  #smooth(wanted: number, v: number): number {
    this.#a += ((wanted - this.#a) * STEP_S) / 0.25;
    return v <= 1e-3 && this.#a < 0 ? Math.min(0, this.#a) : this.#a;
  }
}

/** Turns the wheel along the road with a little wander, or leaves it to the gateway's sweep. */
class Steering {
  readonly #road: Road;
  readonly #scenario: Scenario;
  readonly #random: Random;
  readonly #gradient = understeerGradient(WAGTAIL);
  #rate = 0;
  #wander = 0;

  constructor(road: Road, scenario: Scenario, random: Random) {
    this.#road = road;
    this.#scenario = scenario;
    this.#random = random;
  }

  /** Rate of the road wheel angle, rad/s. */
  rate(t: number, van: Van): number {
    // Hands and steering together: second order, 11 rad/s, damping 0.9, and no faster than 420°/s at the wheel.
    const omega = 11;
    const jerk = omega * omega * (this.#target(t, van) - van.state[STEER]!) - 1.8 * omega * this.#rate;
    this.#rate += jerk * STEP_S;
    const fastest = ((420 / 180) * Math.PI) / WAGTAIL.steeringRatio;
    this.#rate = Math.max(-fastest, Math.min(fastest, this.#rate));
    return this.#rate;
  }

  #target(t: number, van: Van): number {
    const sweep = during(this.#scenario, 'gateway sweeps the wheel', t);
    if (sweep) return ((sweepAngleDeg(t - sweep.startS) / 180) * Math.PI) / WAGTAIL.steeringRatio;
    const v = van.state[SPEED]!;
    // Slow wander of a driver's aim, about 0.1 m, a few seconds long.
    this.#wander +=
      (-this.#wander * STEP_S) / 2.5 + 0.1 * Math.sqrt((2 * STEP_S) / 2.5) * this.#random.normal();
    const { wheelbaseM: length } = WAGTAIL;
    const ahead = this.#road.curvature(van.distance + 0.18 * v);
    const forward = (length + this.#gradient * v * v) * ahead;
    if (v < 0.5) return forward;
    // Offset y follows y″ ≈ v²/(L + K·v²)·δ: gains for 0.9 rad/s, well damped.
    const gain = (v * v) / (length + this.#gradient * v * v);
    const omega = 0.9 * Math.min(1, v / 5);
    const back =
      (omega * omega * (van.offset - this.#wander) + 1.8 * omega * v * van.skew) / Math.max(gain, 2);
    return forward - Math.max(-0.08, Math.min(0.08, back));
  }
}

/** Angle that the gateway orders in its sweep, degrees at the steering wheel, `t` seconds after its start. */
export function sweepAngleDeg(t: number): number {
  return SWEEP.amplitudeDeg * Math.sin(2 * Math.PI * SWEEP.frequencyHz * t);
}
