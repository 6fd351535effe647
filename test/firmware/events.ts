/**
 * Traffic for the comparison of C and run: a scenario in which the guard is really armed, disturbed in every way that a
 * bus, a driver, a button and a clock can disturb it. Everything follows from the seed.
 */
import type { Gateway } from '../../src/bridge/gateway.ts';
import type { SignalRef } from '../../src/bridge/model.ts';
import { believedRange } from '../../src/bridge/plan.ts';
import { counterAfter, counterValues } from '../../src/bridge/supported.ts';
import type { PinCue } from '../../src/bridge/through.ts';
import { unitGain } from '../../src/bridge/units.ts';
import { rawRange, writeBits, writeRaw } from '../../src/can/bits.ts';
import { checkFunction } from '../../src/can/check.ts';
import { FLAG } from '../../src/can/frame.ts';
import type { Capture } from '../../src/capture/store.ts';
import type { Dictionary, Message, Signal } from '../../src/dictionary/model.ts';
import { type ChannelPlan, channelPlans } from '../../src/guard/channels/plan.ts';
import type { GuardPlan } from '../../src/guard/model.ts';

/** Small seeded generator (mulberry32): the same numbers on every machine. */
export function random(seed: number): () => number {
  let a = seed >>> 0;
  return () => {
    a = (a + 0x6d2b79f5) >>> 0;
    let t = a;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

/** One step's worth of traffic, written into arrays that are used again. */
export interface StepEvents {
  /** The gateway is switched off and on before these frames. */
  restart: boolean;
  frames: number;
  bus: Uint8Array;
  id: Uint32Array;
  flags: Uint8Array;
  length: Uint8Array;
  /** 64 bytes per frame. */
  payload: Uint8Array;
  clockMs: number;
  /** 1 = active. */
  pins: Uint8Array;
}

/** Where steps come from. */
export interface Events {
  next(): StepEvents;
}

const MOST_FRAMES = 64;

function emptyEvents(pins: number): StepEvents {
  return {
    restart: false,
    frames: 0,
    bus: new Uint8Array(MOST_FRAMES),
    id: new Uint32Array(MOST_FRAMES),
    flags: new Uint8Array(MOST_FRAMES),
    length: new Uint8Array(MOST_FRAMES),
    payload: new Uint8Array(MOST_FRAMES * 64),
    clockMs: 0,
    pins: new Uint8Array(pins),
  };
}

/** The steps and frames of a capture, as `through` plays it. */
export class CaptureEvents implements Events {
  readonly steps: number;
  readonly #gateway: Gateway;
  readonly #capture: Capture;
  readonly #cues: PinCue[];
  readonly #events: StepEvents;
  #frame = 0;
  #step = 0;

  constructor(gateway: Gateway, capture: Capture, cues: PinCue[]) {
    this.#gateway = gateway;
    this.#capture = capture;
    this.#cues = cues;
    this.#events = emptyEvents(gateway.pins.length);
    const end = capture.time.reduce((last, t) => Math.max(last, t), 0);
    this.steps = Math.floor(((end - (capture.time[0] as number)) * 1000) / gateway.stepMs) + 1;
  }

  next(): StepEvents {
    const events = this.#events;
    const { time, bus, id, flags, length, offset, payload, count } = this.#capture;
    const now = (time[0] as number) + (++this.#step * this.#gateway.stepMs) / 1000;
    events.frames = 0;
    for (; this.#frame < count && (time[this.#frame] as number) < now; this.#frame++) {
      const [i, f] = [events.frames++, this.#frame];
      events.bus[i] = bus[f] as number;
      events.id[i] = id[f] as number;
      events.flags[i] = flags[f] as number;
      events.length[i] = length[f] as number;
      const from = offset[f] as number;
      events.payload.set(payload.subarray(from, from + (length[f] as number)), i * 64);
    }
    events.clockMs = this.#step * this.#gateway.stepMs;
    this.#gateway.pins.forEach((pin, p) => {
      const active = this.#cues.some((c) => c.pin === pin.original && now >= c.startS && now < c.endS);
      events.pins[p] = active ? 1 : 0;
    });
    return events;
  }
}

interface Sender {
  message: Message;
  bus: number;
  /** Physical value of each signal, by name, as the scenario wants it; others are random now and then. */
  values: Map<string, number>;
  periodSteps: number;
  phase: number;
  counter: number;
  silent: number;
  check: ReturnType<typeof checkFunction> | null;
  frame: Uint8Array;
}

export class Scenario implements Events {
  readonly events: StepEvents;
  readonly #rand: () => number;
  readonly #gateway: Gateway;
  readonly #senders: Sender[];
  readonly #guard: GuardPlan | null;
  readonly #steering: ChannelPlan | null;
  readonly #others: ChannelPlan[];
  readonly #wanted = new Map<string, number>();
  #actSteps = 0;
  #supply: number;
  readonly #units: Map<string, number>;
  /** Numbers that the guard compares with, in counts: the places where a small change shows. */
  readonly #constants: number[];
  readonly #arm: number;
  readonly #stop: number;
  #clock: number;
  #phase = 0;
  #left = 50;
  #speed = 5;
  #angle = 0;
  #command = 0;
  #commandSpeed = 0;
  #torque = 0;
  #request = 1;
  #stopSteps = 0;

  constructor(gateway: Gateway, dictionaries: Dictionary[], guard: GuardPlan | null, seed: number) {
    this.#gateway = gateway;
    this.#guard = guard;
    const channels = guard ? channelPlans(guard) : [];
    this.#steering = channels.find((c) => c.key === 'steering') ?? null;
    this.#others = channels.filter((c) => c.key !== 'steering');
    const band = guard?.handover.supply;
    this.#supply = band ? (band.lowV + band.highV) / 2 : 0;
    this.#rand = random(seed);
    // Close to the wrap, so that it comes early; later jumps of the clock bring it back.
    this.#clock = 2 ** 32 - 20_000;
    this.#arm = gateway.pins.findIndex((pin) => pin.original === guard?.armInput.name);
    this.#stop = gateway.pins.findIndex((pin) => pin.original === guard?.stopInput.name);
    this.#senders = gateway.rx.map((rx) => {
      const bus = gateway.buses.find((b) => b.number === rx.bus);
      const message = dictionaries
        .find((d) => d.bus === bus?.name)
        ?.messages.find((m) => m.id === rx.id && m.extended === rx.extended) as Message;
      const periodSteps = Math.max(1, Math.round((message.periodMs ?? 100) / gateway.stepMs));
      return {
        message,
        bus: rx.bus,
        values: new Map(),
        periodSteps,
        phase: Math.floor(this.#rand() * periodSteps),
        counter: message.counter ? (counterValues(message.counter)[0] ?? 0) : 0,
        silent: 0,
        check: message.check ? checkFunction(message.check) : null,
        frame: new Uint8Array(message.length),
      };
    });
    this.#units = new Map();
    this.#constants = gateway.stages
      .filter((stage) => stage.role === 'guard')
      .flatMap(({ program }) =>
        program.nodes.flatMap((n) =>
          n.kind === 'const' ? [n.value] : n.kind === 'table' ? [...n.table.x, ...n.table.y] : [],
        ),
      );
    this.events = emptyEvents(gateway.pins.length);
  }

  /** Makes the next step's traffic. */
  next(): StepEvents {
    const { events } = this;
    events.frames = 0;
    events.restart = this.#chance(0.0003);
    // Often nothing is heard yet when the gateway starts.
    if (events.restart && this.#chance(0.7)) for (const s of this.#senders) s.silent = this.#upTo(4);
    this.#play();
    this.#tell();
    for (const sender of this.#senders) this.#send(sender);
    this.#noise();
    this.#shuffle();
    this.#tick();
    return events;
  }

  #chance(p: number): boolean {
    return this.#rand() < p;
  }

  #upTo(most: number): number {
    return Math.floor(this.#rand() * (most + 1));
  }

  #between(lo: number, hi: number): number {
    return lo + this.#rand() * (hi - lo);
  }

  /** The story: wait, hand over, drive, something happens, acknowledge, again. */
  #play(): void {
    const press = this.#arm >= 0 ? this.#arm : -1;
    const levels = this.#steering?.level.map(([, y]) => y) ?? [90];
    const least = Math.min(...levels);
    const most = Math.max(...levels);
    if (--this.#left <= 0) {
      this.#phase = (this.#phase + 1) % 6;
      this.#left = Math.round(
        [
          this.#between(40, 160),
          this.#between(3, 9),
          this.#between(3, 9),
          this.#between(30, 400),
          this.#between(1, 80),
          this.#between(6, 12),
        ][this.#phase] as number,
      );
      if (this.#phase === 0) {
        this.#angle = this.#between(-0.6, 0.6) * least;
        // Near the last speed: the guard believes no leap.
        const fastest = Math.min(16, (this.#guard?.budget.speedMaxMps ?? 16) - 0.5);
        this.#speed = Math.min(fastest, Math.max(0, Math.min(fastest, this.#speed) + this.#between(-1, 1)));
        this.#request = 1;
        this.#torque = 0;
      }
      if (this.#phase === 3 && this.#chance(0.8)) this.#commandSpeed = this.#between(-60, 60);
      if (this.#phase === 4) this.#disturb();
    }
    const pressing = this.#phase === 1 || (this.#phase === 5 && this.#chance(0.9));
    if (press >= 0) this.events.pins[press] = pressing ? 1 : 0;
    if (this.#stop >= 0) this.events.pins[this.#stop] = this.#stopSteps-- > 0 ? 1 : 0;
    if (this.#phase < 3 || this.#phase === 5) {
      this.#command = this.#angle + this.#between(-1, 1);
    } else {
      if (this.#chance(0.02)) this.#commandSpeed = this.#between(-120, 120);
      if (this.#chance(0.004)) this.#command = this.#between(-2 * most, 2 * most);
      this.#command = Math.max(-2 * most, Math.min(2 * most, this.#command + this.#commandSpeed * 0.01));
      this.#angle += this.#between(-0.3, 0.3);
      this.#speed = Math.max(0, this.#speed + this.#between(-0.06, 0.06));
    }
    const threshold = () => (this.#pick(this.#constants) ?? 0) + this.#upTo(2) - 1;
    if (this.#phase === 3 && this.#chance(0.02)) {
      this.#command = (threshold() / 100) * (this.#chance(0.5) ? 1 : -1);
      this.#commandSpeed = 0;
    }
    if (this.#chance(0.0005)) this.#torque = threshold() / 100;
    if (this.#phase === 3 && this.#chance(0.01)) {
      const speed = threshold() / 100;
      if (Math.abs(speed - this.#speed) < 0.8) this.#speed = speed;
    }
    if (this.#phase === 0 && this.#chance(0.002)) {
      const leading = this.#steering?.measured?.near ?? 5;
      this.#command = this.#angle + leading * (this.#chance(0.5) ? 1 : -1) + (this.#upTo(2) - 1) / 100;
    }
    if (this.#chance(0.0005)) this.#torque = this.#between(-20, 20);
    if (this.#chance(0.02)) this.#torque = this.#between(-1, 1);
  }

  #pick<T>(list: readonly T[]): T | undefined {
    return list[Math.floor(this.#rand() * list.length)];
  }

  #disturb(): void {
    const kind = this.#upTo(9);
    const victim = this.#senders[Math.floor(this.#rand() * this.#senders.length)];
    if (kind === 0) this.#stopSteps = Math.round(this.#between(1, 30));
    else if (kind === 1) this.#request = 0;
    else if (kind === 2) this.#torque = this.#between(-16, 16);
    else if (kind === 3 && victim) victim.silent = Math.round(this.#between(1, 60));
    else if (kind === 4) this.#speed = this.#between(0, 90);
    else if (kind === 5) this.#clock += Math.round(this.#between(0, 200));
    else if (kind === 6) this.#clock = 2 ** 32 - Math.round(this.#between(0, 900));
    else if (kind === 7) for (const s of this.#senders) s.silent = this.#upTo(4);
    // Once in a while long enough for every age to reach its end.
    else if (kind === 8 && this.#chance(0.05) && victim) victim.silent = 1100;
  }

  /** Puts the story's values into the signals that the guard reads. */
  #tell(): void {
    const h = this.#guard?.handover;
    const steering = this.#steering;
    if (!h || !steering) return;
    this.#set(steering.command, this.#command, '°');
    if (steering.measured) this.#set(steering.measured.signal, this.#angle, '°');
    this.#set(h.speed, this.#chance(0.001) ? -this.#speed : this.#speed, 'm/s');
    if (h.driverTorque) this.#set(h.driverTorque.signal, this.#torque, 'N·m');
    this.#set(h.request, this.#request, '');
    this.#tellOthers();
  }

  /** The other channels' commands, what the driver does, and what is measured twice. */
  #tellOthers(): void {
    const h = this.#guard?.handover;
    if (!h) return;
    for (const channel of this.#others) {
      if (this.#chance(0.01)) this.#wanted.set(channel.key, this.#between(-0.2, 1.3) * this.#mostOf(channel));
      this.#set(channel.command, this.#wanted.get(channel.key) ?? 0, channel.unit);
    }
    if (this.#chance(0.001)) this.#actSteps = this.#upTo(30);
    const acting = this.#actSteps-- > 0;
    for (const act of h.driverActs) this.#set(act.signal, acting ? 1 : 0, '');
    for (const pair of h.agreement) {
      const first = pair.unit === 'm/s' ? this.#speed : 0;
      const apart = this.#chance(0.01) ? this.#between(-2, 2) * pair.differBy : 0;
      this.#set(pair.second, first + apart, pair.unit);
    }
    if (h.supply) {
      if (this.#chance(0.001)) this.#supply = this.#between(0.5 * h.supply.lowV, 1.2 * h.supply.highV);
      if (this.#chance(0.01)) this.#supply = (h.supply.lowV + h.supply.highV) / 2;
      this.#set(h.supply.signal, this.#supply, 'V');
    }
  }

  #mostOf(channel: ChannelPlan): number {
    return Math.max(...channel.level.map(([, y]) => y));
  }

  #set(ref: SignalRef, value: number, unit: string): void {
    const bus = this.#gateway.buses.find((b) => b.name === ref.bus)?.number;
    const sender = this.#senders.find((x) => x.bus === bus && x.message.name === ref.message);
    const signal = sender?.message.signals.find((x) => x.name === ref.signal);
    if (!sender || !signal) return;
    let gain = this.#units.get(signal.unit + unit);
    if (gain === undefined) this.#units.set(signal.unit + unit, (gain = unitGain(unit, signal.unit) ?? 1));
    sender.values.set(signal.name, value * gain);
  }

  #send(sender: Sender): void {
    sender.phase++;
    if (this.#chance(0.002)) sender.phase += Math.round(this.#between(-1, 1));
    if (sender.phase < sender.periodSteps) return;
    sender.phase = 0;
    const { message, frame } = sender;
    if (message.counter) sender.counter = counterAfter(message.counter, sender.counter) ?? 0;
    if (sender.silent > 0) {
      sender.silent--;
      return;
    }
    frame.fill(this.#chance(0.1) ? Math.floor(this.#rand() * 256) : 0);
    for (const signal of message.signals) writeRaw(frame, 0, signal, this.#raw(signal, sender.values));
    if (message.counter) writeBits(frame, 0, message.counter, sender.counter);
    if (message.check && sender.check) {
      const value = sender.check(message.id, frame, 0, frame.length, sender.counter);
      if (!Number.isNaN(value)) writeBits(frame, 0, message.check, value);
    }
    const kind = this.#rand();
    if (kind < 0.001) sender.counter = Math.floor(this.#rand() * 16) % 2 ** (message.counter?.length ?? 1);
    if (kind < 0.002) return;
    if (kind < 0.003) frame[Math.floor(this.#rand() * frame.length)]! ^= 1 << Math.floor(this.#rand() * 8);
    const flags = message.extended ? FLAG.extended : 0;
    this.#emit(
      sender.bus,
      message.id,
      flags,
      frame,
      kind > 0.9995 ? Math.floor(this.#rand() * 9) : frame.length,
    );
    if (kind > 0.998) this.#emit(sender.bus, message.id, flags, frame, frame.length);
  }

  #raw(signal: Signal, values: Map<string, number>): number {
    const { lo, hi } = rawRange(signal.length, signal.signed);
    if (this.#chance(0.0004)) return this.#boundary(signal, lo, hi);
    const value = values.get(signal.name);
    if (value === undefined) return lo + Math.floor(this.#rand() * (Math.min(hi, 2 ** 30) - lo + 1));
    return Math.min(hi, Math.max(lo, Math.round((value - signal.offset) / signal.scale)));
  }

  /** A raw value at or beside an end of what the field holds or what is believed. */
  #boundary(signal: Signal, lo: number, hi: number): number {
    const { rawLo, rawHi } = believedRange(signal);
    const raw = (this.#pick([lo, hi, 0, rawLo, rawHi]) ?? 0) + this.#upTo(2) - 1;
    return Math.min(hi, Math.max(lo, raw));
  }

  /** Frames that mean nothing here: other identifiers, other buses, the right ones full of chance. */
  #noise(): void {
    const { rx } = this.#gateway;
    while (this.#chance(0.15)) {
      const bytes = Uint8Array.from({ length: 8 }, () => Math.floor(this.#rand() * 256));
      const known = rx[Math.floor(this.#rand() * rx.length)];
      const flags = this.#chance(0.3) ? FLAG.extended : 0;
      const id = Math.floor(this.#rand() * (flags ? 0x2000_0000 : 0x800));
      const length = Math.floor(this.#rand() * 9);
      const bus = Math.floor(this.#rand() * 4);
      if (known && this.#chance(0.05))
        this.#emit(known.bus, known.id, known.extended ? FLAG.extended : 0, bytes, Math.min(8, known.length));
      else if (known && this.#chance(0.1)) this.#emit(bus, known.id, flags, bytes, length);
      else this.#emit(bus, id, flags, bytes, length);
    }
  }

  #emit(bus: number, id: number, flags: number, payload: Uint8Array, length: number): void {
    const { events } = this;
    if (events.frames === MOST_FRAMES) return;
    const i = events.frames++;
    events.bus[i] = bus;
    events.id[i] = id;
    events.flags[i] = flags;
    events.length[i] = length;
    for (let k = 0; k < length; k++) events.payload[i * 64 + k] = payload[k] ?? 0xa5;
  }

  /** Now and then two frames of a step change places. */
  #shuffle(): void {
    const { events } = this;
    if (events.frames < 2 || !this.#chance(0.1)) return;
    const [i, k] = [0, 1].map(() => Math.floor(this.#rand() * events.frames)) as [number, number];
    for (const column of [events.bus, events.id, events.flags, events.length]) {
      const held = column[i] as number;
      column[i] = column[k] as number;
      column[k] = held;
    }
    const held = events.payload.slice(i * 64, i * 64 + 64);
    events.payload.copyWithin(i * 64, k * 64, k * 64 + 64);
    events.payload.set(held, k * 64);
  }

  #tick(): void {
    const { stepMs } = this.#gateway;
    let spacing = stepMs;
    if (this.#chance(0.1)) spacing += Math.round(this.#between(-2, 2) * (stepMs / 10));
    if (this.#chance(0.0003)) spacing += Math.round(this.#between(-stepMs, 3 * stepMs));
    this.#clock = (this.#clock + spacing) % 2 ** 32;
    if (this.#clock < 0) this.#clock += 2 ** 32;
    this.events.clockMs = this.#clock;
  }
}
