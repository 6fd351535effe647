/** What a gateway is assembled from, and how names in the plans are looked up. */
import { rawRange } from '../can/bits.ts';
import { idKey } from '../can/frame.ts';
import type { Dictionary, Message, Signal } from '../dictionary/model.ts';
import type { Program } from '../logic/form.ts';
import type { GatewayBus } from './gateway.ts';
import type { BridgePlan, MessageRef, SignalRef } from './model.ts';

export interface GatewayParts {
  /** Becomes the name of the gateway in C: any text. */
  name: string;
  stepMs: number;
  buses: GatewayBus[];
  dictionaries: Dictionary[];
  bridge: BridgePlan | null;
  guards: GuardStage[];
}

/** A guard as the bridge takes it: its program, and what to join to it. Paths say where in `guard.yaml` each came from. */
export interface GuardStage {
  program: Program;
  /** One per program input, by the input's name. */
  inputs: Record<string, GuardInput>;
  /** One per actuator. */
  outputs: GuardOutput[];
}

export type GuardInput =
  /**
   * Value of a signal as an integer: count = (signal value in its own unit × `gain`) / `perCount`, rounded to nearest and
   * kept within the input's interval; its magnitude where the sign is dropped.
   */
  | {
      kind: 'value';
      signal: SignalRef;
      path: string;
      perCount: number;
      gain: number;
      sign: 'kept' | 'dropped';
      unit: string;
    }
  /** 1 while the signal's raw value, as last believed, is 1. */
  | { kind: 'flag'; signal: SignalRef; path: string }
  /** Steps since the signals were last received and believed, 0 … 1023: the oldest of them. */
  | { kind: 'age'; signals: { signal: SignalRef; path: string }[] }
  | { kind: 'pin'; name: string; active: 'high' | 'low' }
  | { kind: 'clock' };

/** The message that carries a guard's order, sent every `periodMs`. */
export interface GuardOutput {
  message: MessageRef;
  path: string;
  periodMs: number;
  periodPath: string;
  signals: GuardOutputSignal[];
}

export interface GuardOutputSignal {
  signal: string;
  path: string;
  /** Name of the program's output. */
  output: string;
  /** Value in the signal's unit = count × `factor`, cut off towards zero; a truth value counts as 0 or 1. */
  factor: number;
  /** Count at which the actuator is let go. */
  released: number;
}

/** Finds buses, messages and signals by the names that plans use. */
export class Lookup {
  readonly #buses: Map<string, GatewayBus>;
  readonly #dictionaries: Map<string, Dictionary>;

  constructor(parts: Pick<GatewayParts, 'buses' | 'dictionaries'>) {
    this.#buses = new Map(parts.buses.map((bus) => [bus.name, bus]));
    this.#dictionaries = new Map(parts.dictionaries.map((d) => [d.bus, d]));
  }

  bus(name: string): GatewayBus | undefined {
    return this.#buses.get(name);
  }

  dictionary(bus: string): Dictionary | undefined {
    return this.#dictionaries.get(bus);
  }

  message(ref: MessageRef): Message | undefined {
    return this.#dictionaries.get(ref.bus)?.messages.find((m) => m.name === ref.message);
  }

  signal(ref: SignalRef): Signal | undefined {
    return this.message(ref)?.signals.find((s) => s.name === ref.signal && s.state !== 'rejected');
  }

  busNames(): string[] {
    return [...this.#buses.keys()];
  }
}

/** Every signal that a guard reads, with its place in `guard.yaml`. */
export function guardSignals(guard: GuardStage): { signal: SignalRef; path: string }[] {
  return Object.values(guard.inputs).flatMap((input) => {
    if (input.kind === 'value' || input.kind === 'flag') return [input];
    return input.kind === 'age' ? input.signals : [];
  });
}

/** One text per message and bus, for maps. */
export function messageKey(ref: MessageRef): string {
  return JSON.stringify([ref.bus, ref.message]);
}

/** One text per identifier and bus, for maps. */
export function wireKey(bus: number, message: Pick<Message, 'id' | 'extended'>): string {
  return `${bus}:${idKey(message.id, message.extended ? 1 : 0)}`;
}

/** Steps in a time, where the time is a multiple of the step; otherwise null. */
export function wholeSteps(ms: number, stepMs: number): number | null {
  const steps = Math.round(ms / stepMs);
  return steps >= 1 && Math.abs(steps * stepMs - ms) < 1e-9 ? steps : null;
}

/**
 * Physical interval in which a signal is believed: what its bits can hold, cut to its `min` and `max`.
 * `rawLo` and `rawHi` are the raw values at the ends of that interval, rising.
 */
export function believedRange(signal: Signal): { rawLo: number; rawHi: number; lo: number; hi: number } {
  const { lo, hi } = rawRange(signal.length, signal.signed);
  const ends = [signal.min, signal.max].map((v) =>
    v === undefined ? undefined : (v - signal.offset) / signal.scale,
  );
  const [first, second] = signal.scale < 0 ? [ends[1], ends[0]] : [ends[0], ends[1]];
  const rawLo = Math.max(lo, first === undefined ? lo : Math.ceil(first - SLACK));
  const rawHi = Math.min(hi, second === undefined ? hi : Math.floor(second + SLACK));
  const values = [rawLo, rawHi].map((raw) => raw * signal.scale + signal.offset);
  return { rawLo, rawHi, lo: Math.min(...values), hi: Math.max(...values) };
}

/** A limit of 100 with a scale of 0.1 means raw 1000, whatever the division says in its last bits. */
const SLACK = 1e-6;
