/** How a message of the demo is written down: its fields as in a dictionary, and where each value comes from. */
import type { CheckField } from '../../../src/can/check.ts';
import type { Check, Counter, Message, Signal } from '../../../src/dictionary/model.ts';
import type { Scenario } from '../scenario.ts';
import type { BusName, UnitKey } from '../units.ts';
import { UNITS } from '../units.ts';
import type { World } from '../world.ts';

/** What a faulty sender does to one frame. */
export type Mischief = 'missing' | 'wrong check' | 'frozen counter';

/** A signal and the physical value that goes into it. */
export interface Sent {
  signal: Signal;
  value: (world: World) => number;
}

/** One message as it is sent: the truth about it, and how it comes to be. */
export interface Traffic {
  bus: BusName;
  unit: UnitKey;
  /** In the form of a dictionary, so that what was found can be compared with it. */
  message: Message;
  sent: Sent[];
  /** Payload before signals, counter and check are written. */
  background: number[];
  /** Values that the selector takes in turn. */
  selectorCycle: number[];
  /** Also sent at once when one of these events starts or ends. */
  onChange: string[];
  mischief: ((scenario: Scenario, t: number) => Mischief | null) | null;
}

export interface Place {
  start: number;
  length: number;
  byteOrder: 'little' | 'big';
}

export const little = (start: number, length: number): Place => ({ start, length, byteOrder: 'little' });
export const big = (start: number, length: number): Place => ({ start, length, byteOrder: 'big' });

type SignalFigures = Partial<
  Pick<Signal, 'signed' | 'scale' | 'offset' | 'unit' | 'min' | 'max' | 'values' | 'selectorValue'>
>;

export function number(
  name: string,
  place: Place,
  figures: SignalFigures,
  value: (world: World) => number,
): Sent {
  const signal = { signed: false, scale: 1, offset: 0, unit: '', state: 'accepted' as const, ...figures };
  return { signal: { name, ...place, ...signal }, value };
}

export function flag(name: string, bit: number, value: (world: World) => number): Sent {
  return number(name, little(bit, 1), {}, value);
}

/** An enumeration: names by raw value, from 0. */
export function choice(
  name: string,
  place: Place,
  names: readonly string[],
  value: (world: World) => number,
): Sent {
  const values = Object.fromEntries(names.map((word, raw) => [String(raw), word]));
  return number(name, place, { values }, value);
}

export function counter(start: number, length: number, figures: Partial<Counter> = {}): Counter {
  return { start, length, byteOrder: 'little', step: 1, skip: [], ...figures };
}

/** A check in whole byte `byte` over the `covers` bytes. */
export function check(
  byte: number,
  covers: number[],
  algorithm: CheckField['algorithm'],
  figures: Partial<CheckField> = {},
): Check {
  const plain = {
    start: 8 * byte,
    length: 8,
    byteOrder: 'little' as const,
    width: 8,
    poly: 0,
    init: 0,
    xorout: 0,
  };
  const rest = { reflected: false, prefix: [], suffix: [], idBytes: [], perCounter: null };
  return { ...plain, ...rest, algorithm, covers, ...figures };
}

export interface TrafficFigures {
  id: number;
  extended?: boolean;
  length: number;
  periodMs: number;
  selector?: Message['selector'];
  counter?: Counter;
  check?: Check;
  background?: number[];
  selectorCycle?: number[];
  onChange?: string[];
  mischief?: Traffic['mischief'];
}

export function traffic(
  bus: BusName,
  unit: UnitKey,
  name: string,
  figures: TrafficFigures,
  sent: Sent[],
): Traffic {
  const { background = [], selectorCycle = [], onChange = [], mischief = null, ...rest } = figures;
  const signals = sent.map((one) => one.signal);
  return {
    bus,
    unit,
    message: { name, extended: false, sender: UNITS[unit].name, ...rest, signals },
    sent,
    background,
    selectorCycle,
    onChange,
    mischief,
  };
}
