/**
 * Recordings with known senders: units with clocks of their own, tasks, queues and arbitration on one bus, stamped as
 * recorders stamp. Everything follows from the seed. The figures of a unit are our own choice, not measured ones.
 */
import { type Capture, CaptureBuilder } from '../../src/capture/store.ts';

/** `fine`: 1 µs; `hardware`: 50 µs; `coarse`: 1 ms; `bunched`: a host that fetches frames in bunches and stamps them then. */
export type Stamps = 'fine' | 'hardware' | 'coarse' | 'bunched';

export interface Plan {
  seed: number;
  seconds: number;
  stamps: Stamps;
  /** `ladder`: neighbours mostly 20–100 ppm apart; `crowded`: all within ±150 ppm. */
  spacing?: 'ladder' | 'crowded';
  /** Default 20 and 60. */
  units?: number;
  ids?: number;
  /** Greatest difference of two messages of one unit in ppm, default 0 or 0.5 by seed. */
  withinPpm?: number;
}

export interface Simulated {
  capture: Capture;
  /** Unit by identifier. */
  unitOf: Map<number, number>;
  /** Identifiers that no timing can place with their unit: on a loop of their own, or sent on events. */
  apart: Set<number>;
}

const BIT_RATE = 500_000;
const PERIODS: readonly [periodS: number, share: number][] = [
  [0.01, 0.11],
  [0.02, 0.23],
  [0.05, 0.14],
  [0.1, 0.26],
  [0.2, 0.08],
  [0.5, 0.07],
  [1, 0.11],
];

/** Numbers 0 ≤ x < 1 from a 32-bit seed (a Weyl sequence, mixed by multiplication). */
export function dice(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x9e37_79b9) >>> 0;
    let x = Math.imul(state ^ (state >>> 16), 0x85eb_ca6b);
    x = Math.imul(x ^ (x >>> 13), 0xc2b2_ae35);
    return ((x ^ (x >>> 16)) >>> 0) / 2 ** 32;
  };
}

export function simulate(plan: Plan): Simulated {
  const roll = dice(plan.seed * 7919 + 17);
  const units = unitsOf(plan, roll);
  const messages = messagesOf(plan, units, roll);
  const releases = messages.map((m) => releasesOf(m, plan.seconds, roll));
  const { time, which } = arbitrated(messages, releases, roll);
  const stamped = stampsOf(time, plan.stamps, roll);
  const builder = new CaptureBuilder(time.length);
  const payload = new Uint8Array(8);
  for (let k = 0; k < time.length; k++) {
    const { id } = messages[which[k] as number] as Message;
    payload[0] = k & 0xff;
    builder.add(stamped[k] as number, 0, id, 0, 8, payload, 0, 8);
  }
  return {
    capture: builder.finish(),
    unitOf: new Map(messages.map((m) => [m.id, m.unit.number])),
    apart: new Set(messages.filter((m) => m.kind !== 'task').map((m) => m.id)),
  };
}

interface Unit {
  number: number;
  skew: number;
  tickS: number;
  startS: number;
  /** Everything on one tick, or spread over ticks. */
  together: boolean;
  queue: 'order' | 'priority';
  jitterS: number;
  late: number;
  /** Slow wander of the clock: amplitude in seconds, angular frequency, phase. */
  wander: [number, number, number][];
  /** A loop in software: a period that gathers the time of its work. */
  loop: Float64Array | null;
  restart: { atS: number; forS: number; shiftS: number } | null;
  seed: number;
}

interface Message {
  id: number;
  unit: Unit;
  periodS: number;
  offsetS: number;
  skew: number;
  kind: 'task' | 'ownLoop' | 'event';
  fromS: number;
  toS: number;
}

function unitsOf(plan: Plan, roll: () => number): Unit[] {
  const count = plan.units ?? 20;
  const ladder = [0];
  for (let u = 1; u < count; u++) {
    const step = roll() < 1 / 11 ? 5 * roll() : 20 + 80 * roll();
    ladder.push((ladder[u - 1] as number) + step);
  }
  const middle = (ladder[count - 1] as number) / 2;
  return ladder.map((rung, number) => {
    const skew = (plan.spacing === 'crowded' ? 300 * roll() - 150 : rung - middle) * 1e-6;
    const wander = [0, 1, 2].map((): [number, number, number] => {
      const omega = (2 * Math.PI) / (40 + 400 * roll());
      return [(0.3e-6 * Math.SQRT2) / Math.sqrt(3) / omega, omega, 2 * Math.PI * roll()];
    });
    const looping = roll() < 0.12;
    const restarting = roll() < 0.15;
    const unit: Unit = {
      number,
      skew,
      tickS: pick([0.001, 0.002, 0.005, 0.01], roll),
      startS: roll(),
      together: roll() < 0.6,
      queue: roll() < 0.5 ? 'order' : 'priority',
      jitterS: 20e-6 + 60e-6 * roll(),
      late: 0.02 * roll(),
      wander,
      loop: null,
      restart: restarting
        ? { atS: plan.seconds * (0.1 + 0.8 * roll()), forS: 0.4 + 2.5 * roll(), shiftS: roll() }
        : null,
      seed: Math.floor(roll() * 2 ** 32),
    };
    if (looping) unit.loop = loopTimes(0.01 * (1 + 0.006 * roll()) * (1 + skew), 2e-5, plan.seconds, roll);
    return unit;
  });
}

function messagesOf(plan: Plan, units: Unit[], roll: () => number): Message[] {
  const count = plan.ids ?? 60;
  const withinPpm = plan.withinPpm ?? (plan.seed % 2 === 0 ? 0 : 0.5);
  const taken = new Set<number>();
  const events = Math.floor(4 * roll());
  const messages: Message[] = [];
  for (let k = 0; k < count; k++) {
    let id = 0;
    do id = 0x40 + Math.floor(roll() * 0x700);
    while (taken.has(id));
    taken.add(id);
    // Every unit sends at least one message, some many.
    const unit = units[k < units.length ? k : Math.floor(units.length * roll() ** 1.3)] as Unit;
    const periodS = periodAt(roll());
    const kind = k >= count - events ? 'event' : roll() < 0.07 ? 'ownLoop' : 'task';
    const part = roll() < 0.1 ? roll() : 1;
    messages.push({
      id,
      unit,
      periodS,
      offsetS: unit.together ? 0 : unit.tickS * Math.floor((roll() * periodS) / unit.tickS),
      skew: withinPpm * 1e-6 * roll(),
      kind,
      fromS: part < 0.5 ? plan.seconds * 0.6 * roll() : 0,
      toS: part >= 0.5 && part < 1 ? plan.seconds * (0.4 + 0.6 * roll()) : plan.seconds,
    });
  }
  return messages;
}

/** Times at which the unit hands the message to its controller, rising. */
function releasesOf(message: Message, seconds: number, roll: () => number): Float64Array {
  const { unit, periodS } = message;
  const times: number[] = [];
  if (message.kind === 'event') {
    const wait = () => Math.log(1 / (1 - roll()));
    for (let t = wait(); t < seconds; t += wait()) times.push(t);
  } else if (message.kind === 'ownLoop') {
    const own = loopTimes(periodS * (1 + 0.01 * (roll() - 0.5)), 1e-4 * periodS, seconds, roll);
    for (const t of own) times.push(t);
  } else if (unit.loop) {
    const every = Math.round(periodS / 0.01);
    const first = Math.floor(message.offsetS / 0.01);
    for (let k = first; k < unit.loop.length; k += every) {
      times.push((unit.loop[k] as number) + taskDelay(unit, k));
    }
  } else {
    const ticks = Math.round(periodS / unit.tickS);
    const first = Math.round(message.offsetS / unit.tickS) - 2 * Math.ceil(1 / periodS) * ticks;
    for (let k = first; ; k += ticks) {
      const t = atTick(unit, k, message.skew);
      if (t > seconds) break;
      if (t > 0) times.push(t + taskDelay(unit, k));
    }
  }
  const shift = unit.restart;
  const kept = times
    .map((t) => (shift && t > shift.atS + shift.forS / 2 ? t + (shift.shiftS % periodS) : t))
    .filter((t) => !shift || t < shift.atS || t > shift.atS + shift.forS)
    .filter((t) => t >= message.fromS && t <= message.toS);
  return Float64Array.from(kept).sort();
}

function atTick(unit: Unit, k: number, extraSkew: number): number {
  const nominal = k * unit.tickS + unit.startS;
  let t = nominal * (1 + unit.skew + extraSkew);
  for (const [amplitude, omega, phase] of unit.wander) t += amplitude * Math.sin(omega * nominal + phase);
  return t;
}

/** Delay of the task that runs at tick `k`, the same for all messages that it sends. */
function taskDelay(unit: Unit, k: number): number {
  const roll = dice(unit.seed + Math.imul(k, 0x2c1b_3c6d));
  const normal = Math.sqrt(-2 * Math.log(1 - roll())) * Math.cos(2 * Math.PI * roll());
  const usual = unit.jitterS * Math.exp(0.6 * normal);
  return roll() < unit.late ? usual - 0.001 * Math.log(1 - roll()) : usual;
}

function loopTimes(periodS: number, workS: number, seconds: number, roll: () => number): Float64Array {
  const times: number[] = [];
  for (let t = periodS * roll(); t < seconds; t += periodS - workS * Math.log(1 - roll())) times.push(t);
  return Float64Array.from(times);
}

/** One frame after another on the bus: the lowest identifier among the heads of all queues goes first. */
function arbitrated(messages: Message[], releases: Float64Array[], roll: () => number) {
  const total = releases.reduce((sum, r) => sum + r.length, 0);
  const time = new Float64Array(total);
  const which = new Uint16Array(total);
  const order = merged(releases, total);
  const pending = new Map<Unit, number[]>();
  for (const { unit } of messages) pending.set(unit, []);
  const queues = [...pending];
  let admitted = 0;
  let waiting = 0;
  let free = 0;
  for (let sent = 0; sent < total; sent++) {
    const next = order.time[admitted] ?? Number.POSITIVE_INFINITY;
    const now = waiting > 0 ? free : Math.max(free, next);
    while (admitted < total && (order.time[admitted] as number) <= now) {
      const m = order.which[admitted++] as number;
      (pending.get((messages[m] as Message).unit) as number[]).push(m);
      waiting++;
    }
    let best = -1;
    let from: number[] = [];
    let at = 0;
    for (const [unit, queue] of queues) {
      if (queue.length === 0) continue;
      let head = 0;
      if (unit.queue === 'priority') {
        for (let k = 1; k < queue.length; k++) {
          if (idOf(messages, queue[k]) < idOf(messages, queue[head])) head = k;
        }
      }
      if (best < 0 || idOf(messages, queue[head]) < idOf(messages, best)) {
        best = queue[head] as number;
        from = queue;
        at = head;
      }
    }
    from.splice(at, 1);
    waiting--;
    // 111 bits of a frame with eight bytes, and some 5 to 15 stuff bits.
    const end = now + (116 + 10 * roll()) / BIT_RATE;
    time[sent] = end;
    which[sent] = best;
    free = end;
  }
  return { time, which };
}

function idOf(messages: Message[], m: number | undefined): number {
  return (messages[m as number] as Message).id;
}

function merged(streams: Float64Array[], total: number) {
  const time = new Float64Array(total);
  const which = new Uint16Array(total);
  const at = new Uint32Array(streams.length);
  for (let k = 0; k < total; k++) {
    let best = -1;
    let least = Number.POSITIVE_INFINITY;
    for (let s = 0; s < streams.length; s++) {
      const t = (streams[s] as Float64Array)[at[s] as number];
      if (t !== undefined && t < least) {
        least = t;
        best = s;
      }
    }
    time[k] = least;
    which[k] = best;
    at[best] = (at[best] as number) + 1;
  }
  return { time, which };
}

function stampsOf(time: Float64Array, stamps: Stamps, roll: () => number): Float64Array {
  if (stamps === 'bunched') return bunched(time, roll);
  const step = stamps === 'fine' ? 1e-6 : stamps === 'hardware' ? 50e-6 : 1e-3;
  return time.map((t) => Math.floor(t / step) * step);
}

/** The host fetches every few milliseconds, now and then much later, and stamps what has come one after the other. */
function bunched(time: Float64Array, roll: () => number): Float64Array {
  const out = new Float64Array(time.length);
  let fetch = 0;
  let stamp = 0;
  for (let k = 0; k < time.length; k++) {
    const t = time[k] as number;
    while (fetch < t) {
      fetch += 0.002 + 0.002 * roll() + (roll() < 0.01 ? -0.008 * Math.log(1 - roll()) : 0);
      stamp = fetch;
    }
    stamp += 4e-6 + 4e-6 * roll();
    out[k] = Math.round(stamp * 1e6) / 1e6;
  }
  return out;
}

function periodAt(x: number): number {
  let rest = x;
  for (const [periodS, share] of PERIODS) {
    if (rest < share) return periodS;
    rest -= share;
  }
  return 1;
}

function pick<T>(from: readonly T[], roll: () => number): T {
  return from[Math.floor(from.length * roll())] as T;
}
