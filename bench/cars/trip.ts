/**
 * A trip of a made-up car, second by second: what its sensors would read while it drives, stops, turns and warms up. The
 * quantities hang together as they do in a car. None of the curves from which the weights of the cut were learned
 * (bench/train/motion.ts) is used here.
 */
import type { Dice } from '../train/dice.ts';

/** Samples of a quantity in its own unit, every `STEP_S` seconds. */
export interface Quantity {
  name: string;
  values: Float64Array;
  /** It crosses zero in a car: steering, acceleration. */
  bipolar: boolean;
  /** The largest size that its field must be able to hold. */
  span: number;
}

export const STEP_S = 0.01;

export function tripOf(dice: Dice, seconds: number): Quantity[] {
  const n = Math.round(seconds / STEP_S);
  const drive = driven(dice, n);
  const { speed, curvature, throttle, brake, engine } = drive;
  const of = (f: (i: number) => number) => Float64Array.from({ length: n }, (_, i) => f(i));
  const v = (i: number) => speed[i] as number;
  const k = (i: number) => curvature[i] as number;
  const noise = (size: number) => size * dice.normal();
  const rough = dice.ratio(0.02, 0.3);
  const list: Quantity[] = [
    { name: 'speed', values: speed, bipolar: false, span: 70 },
    {
      name: 'wheel front left',
      values: of((i) => v(i) * (1 - 0.75 * k(i)) + noise(0.02)),
      bipolar: false,
      span: 70,
    },
    {
      name: 'wheel front right',
      values: of((i) => v(i) * (1 + 0.75 * k(i)) + noise(0.02)),
      bipolar: false,
      span: 70,
    },
    {
      name: 'wheel rear left',
      values: of((i) => v(i) * (1 - 0.74 * k(i)) + noise(0.01)),
      bipolar: false,
      span: 70,
    },
    {
      name: 'steering angle',
      values: of((i) => 40 * k(i) * (1 + 0.002 * v(i) ** 2) + noise(0.002)),
      bipolar: true,
      span: 9,
    },
    {
      name: 'steering torque',
      values: of((i) => 60 * k(i) * Math.min(1, v(i) / 8) + noise(0.15)),
      bipolar: true,
      span: 10,
    },
    { name: 'yaw rate', values: of((i) => v(i) * k(i) + noise(0.004)), bipolar: true, span: 1.2 },
    {
      name: 'lateral acceleration',
      values: of((i) => v(i) ** 2 * k(i) + noise(rough)),
      bipolar: true,
      span: 12,
    },
    {
      name: 'acceleration',
      values: of((i) => (v(i) - v(Math.max(0, i - 20))) / (20 * STEP_S) + noise(rough)),
      bipolar: true,
      span: 12,
    },
    { name: 'throttle', values: throttle, bipolar: false, span: 100 },
    { name: 'brake pressure', values: brake, bipolar: false, span: 150 },
    { name: 'engine speed', values: engine, bipolar: false, span: 7500 },
    {
      name: 'engine torque',
      values: of((i) => 3 * (throttle[i] as number) - 0.006 * (engine[i] as number) + noise(0.8)),
      bipolar: true,
      span: 400,
    },
    { name: 'slope', values: slopeOf(dice, n), bipolar: true, span: 0.3 },
    { name: 'coolant', values: thermal(dice, n, 15, 92, seconds), bipolar: false, span: 140 },
    { name: 'oil', values: thermal(dice, n, 12, 105, 2 * seconds), bipolar: false, span: 160 },
    { name: 'way', values: summed(of((i) => v(i) * STEP_S)), bipolar: false, span: 65_000 },
    { name: 'cylinder', values: sawtooth(of((i) => (engine[i] as number) / 120)), bipolar: false, span: 1 },
    { name: 'knock', values: bursts(dice, n), bipolar: false, span: 1 },
    { name: 'current', values: chirp(dice, n), bipolar: true, span: 1.2 },
    {
      name: 'voltage',
      values: of((i) => 13.8 - ((throttle[i] as number) > 80 ? 0.4 : 0) + noise(0.03)),
      bipolar: false,
      span: 20,
    },
    { name: 'gap ahead', values: gaps(dice, n), bipolar: false, span: 200 },
    {
      name: 'fuel flow',
      values: of(
        (i) => 0.3 + 0.0004 * (throttle[i] as number) * ((engine[i] as number) / 100) + Math.abs(noise(0.02)),
      ),
      bipolar: false,
      span: 12,
    },
  ];
  return list;
}

/** A road of straights, bends and stops, and how it is driven. */
function driven(dice: Dice, n: number) {
  const speed = new Float64Array(n);
  const curvature = new Float64Array(n);
  const throttle = new Float64Array(n);
  const brake = new Float64Array(n);
  const engine = new Float64Array(n);
  let v = dice.chance(0.5) ? 0 : dice.between(5, 25);
  let limit = dice.between(8, 30);
  let left = dice.between(30, 200);
  let aimK = 0;
  let kNow = 0;
  let stop = 0;
  let gear = 1;
  let a = 0;
  for (let i = 0; i < n; i++) {
    if (left <= 0) {
      const bend = dice.chance(0.6);
      left = bend ? dice.between(15, 90) : dice.between(40, 300);
      aimK = bend ? (dice.chance(0.5) ? 1 : -1) / dice.ratio(8, 250) : 0;
      limit = bend ? Math.min(28, Math.sqrt(2.8 / Math.abs(aimK))) : dice.between(8, 33);
      if (dice.chance(0.2)) stop = dice.between(2, 6) / STEP_S;
    }
    const aim = stop > 0 ? 0 : limit;
    if (stop > 0 && v < 0.05) stop--;
    const want = Math.max(-3.2, Math.min(2.4 - 0.04 * v, 0.6 * (aim - v)));
    a += (want - a) * STEP_S * 3;
    v = Math.max(0, v + a * STEP_S);
    left -= v * STEP_S + (v === 0 ? 0.01 : 0);
    // A clothoid: curvature changes with the way, not at once.
    kNow += Math.max(-0.02, Math.min(0.02, aimK - kNow)) * STEP_S * Math.min(2, 0.3 + v / 10);
    speed[i] = v;
    curvature[i] = kNow;
    throttle[i] = a > 0.05 ? Math.min(100, 12 + 30 * a + 0.6 * v) : 0;
    brake[i] = a < -0.4 ? Math.min(140, -22 * (a + 0.4)) : stop > 0 && v < 0.1 ? 18 : 0;
    const ratio = [0, 120, 70, 46, 34, 27][gear] as number;
    engine[i] = Math.max(780 + 8 * Math.sin(i / 9) + 6 * dice.normal(), v * ratio + 5 * dice.normal());
    if ((engine[i] as number) > 2600 && gear < 5) gear++;
    if ((engine[i] as number) < 1300 && gear > 1) gear--;
  }
  return { speed, curvature, throttle, brake, engine };
}

function slopeOf(dice: Dice, n: number): Float64Array {
  const waves = Array.from({ length: 4 }, () => [
    dice.ratio(500, 6000),
    dice.between(0, 6),
    dice.between(0.005, 0.04),
  ]);
  return Float64Array.from({ length: n }, (_, i) =>
    waves.reduce(
      (sum, [period, phase, size]) =>
        sum + (size as number) * Math.sin(i / (period as number) + (phase as number)),
      0,
    ),
  );
}

/** Warms up towards a thermostat's level, then swings about it. */
function thermal(dice: Dice, n: number, from: number, to: number, seconds: number): Float64Array {
  const start = dice.between(from, to);
  const slow = dice.ratio(0.2, 1) * seconds;
  return Float64Array.from({ length: n }, (_, i) => {
    const t = i * STEP_S;
    const x = to + (start - to) * Math.exp(-t / slow);
    return x + (x > to - 6 ? 2 * Math.sin(t / 7) : 0);
  });
}

function summed(rates: Float64Array): Float64Array {
  let sum = 0;
  return rates.map((rate) => (sum += rate));
}

function sawtooth(turns: Float64Array): Float64Array {
  let x = 0;
  return turns.map((rate) => {
    x += rate * STEP_S;
    x -= Math.floor(x);
    return x;
  });
}

/** Silence, and bursts that ring out. */
function bursts(dice: Dice, n: number): Float64Array {
  let size = 0;
  return Float64Array.from({ length: n }, () => {
    if (dice.chance(0.004)) size = dice.between(0.2, 1);
    size *= 0.97;
    return size < 0.004 ? 0 : size * Math.abs(dice.normal()) * 0.5;
  });
}

function chirp(dice: Dice, n: number): Float64Array {
  const [low, high] = [dice.ratio(0.02, 0.2), dice.ratio(0.3, 3)];
  let phase = 0;
  return Float64Array.from({ length: n }, (_, i) => {
    phase += 2 * Math.PI * STEP_S * low * (high / low) ** (i / n);
    return Math.sin(phase) + 0.01 * dice.normal();
  });
}

/** Distance to what drives ahead: closes and opens, jumps when another comes between, full where nothing is ahead. */
function gaps(dice: Dice, n: number): Float64Array {
  let gap = 200;
  let rate = 0;
  return Float64Array.from({ length: n }, () => {
    if (dice.chance(0.0015)) gap = dice.chance(0.4) ? 200 : dice.between(8, 120);
    rate += 0.02 * dice.normal() - 0.002 * rate;
    if (gap < 200) gap = Math.max(3, Math.min(199, gap + rate * STEP_S * 8));
    return gap;
  });
}
