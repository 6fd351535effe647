/**
 * What a runaway of the steering does before and after the driver acts: the order leaves straight ahead at its slew, is
 * held at its level, and after the driver's time the fault is gone and the driver counter-steers. Lateral movement is
 * that of the centre of gravity from the straight line. Own derivation; uniformly accelerated motion in pieces.
 */
import type { Host } from '../../car/model.ts';
import {
  Integrator,
  lateralAcceleration,
  SIDESLIP,
  SPEED,
  STEER,
  singleTrackCar,
  singleTrackModel,
  Y,
} from '../../car/singleTrack.ts';
import { lateralAccelerationGain } from '../../car/steady.ts';

/** Lateral acceleration with which the driver steers back, m/s²: what ISO 11270:2014, 5.4 allows the system itself. */
export const COUNTER_MPS2 = 3;

/** Greatest excursion in m when lateral acceleration `a` comes at once and is answered after `timeS`: a·t²/2·(1 + a/a_c). */
export function stepExcursionM(a: number, timeS: number, counter = COUNTER_MPS2): number {
  return ((a * timeS ** 2) / 2) * (1 + a / counter);
}

/** Lateral acceleration in m/s² whose `stepExcursionM` is `distanceM`: (a_c/2)·(√(1 + 8y/(a_c·t²)) − 1). */
export function stepAllowance(distanceM: number, timeS: number, counter = COUNTER_MPS2): number {
  return (counter / 2) * (Math.sqrt(1 + (8 * distanceM) / (counter * timeS ** 2)) - 1);
}

/** Lateral movement (m) and speed (m/s) at `timeS` when acceleration rises with `jerk` to `a` and stays there. */
export function rampMotion(a: number, jerk: number, timeS: number): { y: number; vy: number } {
  const rise = a / jerk;
  if (timeS <= rise) return { y: (jerk * timeS ** 3) / 6, vy: (jerk * timeS ** 2) / 2 };
  return {
    y: (a * timeS ** 2) / 2 - (a * rise * timeS) / 2 + (a * rise ** 2) / 6,
    vy: a * timeS - (a * rise) / 2,
  };
}

/** Acceleration in m/s², at most `most`, that a ramp with `jerk` may reach so that the excursion stays `distanceM`. */
export function rampAllowance(
  distanceM: number,
  jerk: number,
  timeS: number,
  most: number,
  counter = COUNTER_MPS2,
): number {
  const excursion = (a: number) => {
    const { y, vy } = rampMotion(a, jerk, timeS);
    return y + vy ** 2 / (2 * counter);
  };
  return largestBelow((a) => excursion(a) <= distanceM, most);
}

/** A runaway at the road wheels. */
export interface Runaway {
  /** Road wheel angle at which it is held, rad > 0. */
  levelRad: number;
  /** Rate at which it gets there, rad/s > 0. */
  slewRadps: number;
  /** From its first movement to the driver's counter-steering, s. */
  timeS: number;
}

export interface RunawayOutcome {
  /** Greatest lateral movement of the centre of gravity, m. */
  excursionM: number;
  /** Greatest lateral acceleration before the driver acts, m/s². */
  accelerationMps2: number;
  /** Greatest mean of lateral jerk over 0.5 s before the driver acts, m/s³. */
  meanJerkMps3: number;
}

const STEP_S = 0.005;
const HALF_SECOND = Math.round(0.5 / STEP_S);
const LONGEST_S = 20;

/**
 * The same by simulation of the linear single-track model at constant speed, which also knows how late the car follows:
 * late in going off, but late in coming back too. The driver turns the road wheels at once to the angle whose steady
 * lateral acceleration is `counter` the other way. Speed from 1 m/s on.
 */
export function simulateRunaway(
  host: Host,
  speedMps: number,
  runaway: Runaway,
  counter = COUNTER_MPS2,
): RunawayOutcome {
  const derivative = singleTrackModel(singleTrackCar(host));
  const integrator = new Integrator(derivative, SIDESLIP + 1);
  const state = new Float64Array(SIDESLIP + 1);
  const rates = new Float64Array(SIDESLIP + 1);
  const input = new Float64Array(2);
  state[SPEED] = speedMps;
  const outcome: RunawayOutcome = { excursionM: 0, accelerationMps2: 0, meanJerkMps3: 0 };
  const accelerations: number[] = [];
  const before = Math.round(runaway.timeS / STEP_S);
  for (let k = 0; k < before; k++) {
    input[0] = Math.min(runaway.slewRadps, Math.max(0, (runaway.levelRad - state[STEER]!) / STEP_S));
    derivative(state, input, rates);
    const a = lateralAcceleration(state, rates);
    accelerations.push(a);
    outcome.accelerationMps2 = Math.max(outcome.accelerationMps2, Math.abs(a));
    // Before the fault there was none: a mean that reaches back before it starts from zero.
    const earlier = k >= HALF_SECOND ? accelerations[k - HALF_SECOND]! : 0;
    outcome.meanJerkMps3 = Math.max(outcome.meanJerkMps3, Math.abs(a - earlier) / 0.5);
    integrator.step(state, input, STEP_S);
  }
  state[STEER] = -counter / lateralAccelerationGain(host, speedMps);
  input[0] = 0;
  for (let k = before; k * STEP_S < LONGEST_S; k++) {
    const y = state[Y]!;
    integrator.step(state, input, STEP_S);
    outcome.excursionM = Math.max(outcome.excursionM, state[Y]!);
    if (state[Y]! < y) break;
  }
  return outcome;
}

/** Largest value in 0 … `most` for which `holds`, by bisection; `holds` must not come back once it is lost. */
export function largestBelow(holds: (value: number) => boolean, most: number): number {
  if (holds(most)) return most;
  let [lo, hi] = [0, most];
  for (let i = 0; i < 40; i++) {
    const middle = (lo + hi) / 2;
    if (holds(middle)) lo = middle;
    else hi = middle;
  }
  return lo;
}
