/** What the sensors of the van see at one moment, in the units that messages use; with the noise of the unit that asks. */
import { BRAKE_BAR_PER_MPS2, COAST_MPS2, GEARS, IDLE_RPM, TRACK_M, WAGTAIL } from './host.ts';
import { CHANNELS, type Channel, type Motion, sweepAngleDeg } from './motion.ts';
import type { Random } from './random.ts';
import { during, type Scenario } from './scenario.ts';

const DEGREES = 180 / Math.PI;

export class World {
  readonly scenario: Scenario;
  /** Seconds since the start of the recording. */
  t = 0;
  readonly now: Record<Channel, number>;
  readonly #motion: Motion;
  #random: Random = { next: () => 0, normal: () => 0 };

  constructor(scenario: Scenario, motion: Motion) {
    this.scenario = scenario;
    this.#motion = motion;
    this.now = Object.fromEntries(CHANNELS.map((name) => [name, 0])) as Record<Channel, number>;
  }

  /** Moves to a moment, seen by a unit whose sensors have this randomness. */
  seek(t: number, random: Random): void {
    this.t = t;
    this.#random = random;
    const at = Math.max(0, t) / this.#motion.stepS;
    const i = Math.min(Math.floor(at), this.#motion.values.speed.length - 2);
    const part = Math.min(1, at - i);
    for (const name of CHANNELS) {
      const series = this.#motion.values[name];
      const a = series[i] as number;
      this.now[name] = a + ((series[i + 1] as number) - a) * part;
    }
  }

  /** 1 while an event of this name is under way, else 0. */
  flag(name: string): number {
    return during(this.scenario, name, this.t) ? 1 : 0;
  }

  level(name: string): number {
    return during(this.scenario, name, this.t)?.level ?? 0;
  }

  noise(deviation: number): number {
    return deviation * this.#random.normal();
  }

  get speedKmh(): number {
    return this.now.speed * 3.6;
  }

  /** Speed of a wheel along its own direction, km/h; `x` 1 front or −1 rear, `y` 1 left or −1 right. */
  wheelKmh(x: 1 | -1, y: 1 | -1): number {
    const { speed, sideslip, yawRate, steer } = this.now;
    if (speed < 0.02) return 0;
    const forward = speed * Math.cos(sideslip) - (y * yawRate * TRACK_M) / 2;
    if (x < 0) return Math.max(0, forward * 3.6 + this.noise(0.02));
    const across = speed * Math.sin(sideslip) + WAGTAIL.cgToFrontM * yawRate;
    return Math.max(0, (forward * Math.cos(steer) + across * Math.sin(steer)) * 3.6 + this.noise(0.02));
  }

  get yawRateDegPerS(): number {
    return this.now.yawRate * DEGREES;
  }

  /** Steering wheel, left positive. */
  get wheelDeg(): number {
    return this.now.steer * WAGTAIL.steeringRatio * DEGREES;
  }

  get wheelDegPerS(): number {
    return this.now.steerRate * WAGTAIL.steeringRatio * DEGREES;
  }

  /** Angle that the gateway orders; 0 outside its sweep. */
  get orderDeg(): number {
    const sweep = during(this.scenario, 'gateway sweeps the wheel', this.t);
    return sweep ? sweepAngleDeg(this.t - sweep.startS) : 0;
  }

  /** Torque that turns the wheel, hands and motor together, N·m: side force of the tyres and friction. */
  get #columnNm(): number {
    const scrub = this.now.speed < 1 ? 4.5 : 1.1;
    return 7.5 * this.now.lateralAcceleration + scrub * Math.tanh(this.wheelDegPerS / 12);
  }

  get driverNm(): number {
    const hands = this.level('driver turns the wheel');
    if (hands > 0) return hands + this.noise(0.12);
    if (this.scenario.wheel === 'bench motor')
      return 0.3 * Math.tanh(this.wheelDegPerS / 20) + this.noise(0.04);
    if (this.flag('gateway sweeps the wheel')) return this.noise(0.05);
    return 0.24 * this.#columnNm + this.noise(0.07);
  }

  get motorNm(): number {
    if (this.scenario.wheel === 'bench motor') return this.noise(0.05);
    const share = this.flag('gateway sweeps the wheel') ? 1 : 0.76;
    return share * this.#columnNm + this.noise(0.05);
  }

  get acceleratorPercent(): number {
    return 100 * this.now.accelerator;
  }

  get brakePressed(): number {
    return this.now.braking > 0.05 ? 1 : 0;
  }

  get brakeBar(): number {
    return this.now.braking * BRAKE_BAR_PER_MPS2;
  }

  /** 1 … 5; 0 is neutral. */
  get gear(): number {
    const v = this.now.speed;
    return v < 0.3 ? 0 : 1 + GEARS.findIndex((gear) => v < gear.upToMps);
  }

  get engineRpm(): number {
    const gear = GEARS[this.gear - 1];
    const turning = gear ? gear.rpmPerMps * this.now.speed : 0;
    return Math.max(IDLE_RPM, turning) + this.noise(6);
  }

  /** Share of the engine's torque that drives the van, −20 … 100 %. */
  get engineTorquePercent(): number {
    const { accelerator, speed } = this.now;
    return accelerator > 0 ? 100 * accelerator : speed > 1 ? -20 * COAST_MPS2 : 6;
  }
}
