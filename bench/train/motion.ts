/**
 * How made-up quantities move over the frames of a training message: families of curves, each between 0 and 1 (or −1 and 1
 * where it crosses zero). None of them is used in the cars on which the cut is measured (bench/cars/).
 */
import type { Dice } from './dice.ts';

export interface Curve {
  /** One value a frame. */
  values: Float64Array;
  /** It crosses zero: −1 … 1. */
  bipolar: boolean;
}

type Family = (dice: Dice, n: number) => Curve;

export function anyCurve(dice: Dice, n: number): Curve {
  return (FAMILIES[dice.weighted(SHARES)] as Family)(dice, n);
}

const SHARES = {
  drive: 3,
  steer: 4,
  engine: 2,
  slow: 2,
  noise: 2,
  wave: 1.5,
  walk: 2.5,
  steps: 1.5,
  pedal: 1.5,
  around: 1,
};

const FAMILIES: Record<keyof typeof SHARES, Family> = {
  /** A speed: ramps up and down, held in between, sometimes at rest. */
  drive(dice, n) {
    const values = new Float64Array(n);
    let v = dice.chance(0.5) ? 0 : dice.next();
    let aim = v;
    let hold = 0;
    const rate = dice.ratio(0.5, 20) / n;
    for (let i = 0; i < n; i++) {
      if (--hold <= 0) {
        aim = dice.chance(0.25) ? 0 : dice.next();
        hold = dice.ratio(0.02, 0.4) * n;
      }
      v += Math.max(-rate, Math.min(rate, aim - v));
      values[i] = v;
    }
    return { values, bipolar: false };
  },
  /** A damped spring pulled about: steering, yaw, acceleration. */
  steer(dice, n) {
    const values = new Float64Array(n);
    const w = dice.ratio(0.005, 0.4);
    const damping = dice.between(0.2, 1);
    let x = 0;
    let v = 0;
    let largest = 1e-9;
    for (let i = 0; i < n; i++) {
      v += -w * w * x - 2 * damping * w * v + dice.normal() * w * w;
      x += v;
      values[i] = x;
      largest = Math.max(largest, Math.abs(x));
    }
    return { values: values.map((y) => y / largest), bipolar: true };
  },
  /** Revolutions: follow a load, fall at changes of gear, idle. */
  engine(dice, n) {
    const values = new Float64Array(n);
    const idle = dice.between(0.08, 0.2);
    const climb = dice.ratio(0.002, 0.05);
    let v = idle;
    let running = dice.chance(0.5);
    for (let i = 0; i < n; i++) {
      if (dice.chance(0.01)) running = !running;
      v += running ? climb : (idle - v) * 0.03;
      if (v > 0.9 || (running && dice.chance(0.01))) v *= 0.6;
      values[i] = Math.max(0, v + 0.003 * dice.normal());
    }
    return { values, bipolar: false };
  },
  slow(dice, n) {
    const values = new Float64Array(n);
    const from = dice.next();
    const to = Math.min(1, Math.max(0, from + dice.normal() * dice.ratio(0.005, 0.3)));
    const bend = dice.ratio(0.3, 3);
    for (let i = 0; i < n; i++) values[i] = from + (to - from) * (i / n) ** bend;
    return { values, bipolar: false };
  },
  noise(dice, n) {
    const level = dice.next();
    const spread = dice.ratio(0.001, 0.3);
    const bipolar = dice.chance(0.4);
    const values = Float64Array.from({ length: n }, () => (bipolar ? 0 : level) + spread * dice.normal());
    return { values, bipolar };
  },
  wave(dice, n) {
    const period = dice.ratio(8, 2 * n);
    const phase = dice.between(0, 6.28);
    const noise = dice.ratio(0.0001, 0.05);
    const bipolar = dice.chance(0.6);
    const values = Float64Array.from({ length: n }, (_, i) => {
      const y = Math.sin((2 * Math.PI * i) / period + phase) + noise * dice.normal();
      return bipolar ? y : (y + 1) / 2;
    });
    return { values, bipolar };
  },
  walk(dice, n) {
    const values = new Float64Array(n);
    const step = dice.ratio(0.0003, 0.08);
    const bipolar = dice.chance(0.5);
    let x = bipolar ? 0 : dice.next();
    for (let i = 0; i < n; i++) {
      x += step * dice.normal();
      if (x > 1) x = 2 - x;
      if (x < (bipolar ? -1 : 0)) x = (bipolar ? -2 : 0) - x;
      values[i] = Math.min(1, x);
    }
    return { values, bipolar };
  },
  /** Levels held for a while, with or without a ramp between them. */
  steps(dice, n) {
    const values = new Float64Array(n);
    const change = dice.ratio(0.002, 0.1);
    const smooth = dice.chance(0.5) ? 1 : dice.ratio(0.02, 1);
    let aim = dice.next();
    let x = aim;
    for (let i = 0; i < n; i++) {
      if (dice.chance(change)) aim = dice.next();
      x += (aim - x) * smooth;
      values[i] = x;
    }
    return { values, bipolar: false };
  },
  /** At rest on zero but for presses. */
  pedal(dice, n) {
    const values = new Float64Array(n);
    const press = dice.ratio(0.002, 0.03);
    let left = 0;
    let height = 0;
    let x = 0;
    for (let i = 0; i < n; i++) {
      if (left <= 0 && dice.chance(press)) {
        left = dice.ratio(5, 100);
        height = dice.next();
      }
      x += ((left-- > 0 ? height : 0) - x) * 0.2;
      values[i] = x < 0.002 ? 0 : x;
    }
    return { values, bipolar: false };
  },
  /** An angle that goes round: a heading, a wheel's position. */
  around(dice, n) {
    const values = new Float64Array(n);
    let speed = dice.normal() * dice.ratio(0.0005, 0.1);
    let x = dice.next();
    for (let i = 0; i < n; i++) {
      speed += 0.02 * speed * dice.normal() + 0.0003 * dice.normal();
      x += speed + 0.0005 * dice.normal();
      x -= Math.floor(x);
      values[i] = x;
    }
    return { values, bipolar: false };
  },
};
