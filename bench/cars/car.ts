/**
 * Made-up cars with known layouts, on which the cut into signals is measured: big- and little-endian, at any bit, signed
 * in two's complement or by a sign bit, with counters, check fields and multiplexed messages. Everything follows from
 * the seed. The weights of the cut are learned on other traffic (bench/train/).
 */
import { fieldBits, writeRaw } from '../../src/can/bits.ts';
import { writeCheck } from '../../src/can/check.ts';
import { type Capture, CaptureBuilder } from '../../src/capture/store.ts';
import { Dice } from '../train/dice.ts';
import { type Quantity, STEP_S, tripOf } from './trip.ts';

export interface CarSignal {
  name: string;
  start: number;
  length: number;
  byteOrder: 'little' | 'big';
  signed: boolean | 'magnitude';
  kind: 'number' | 'flag' | 'enum' | 'counter' | 'check' | 'selector';
  selectorValue: number | null;
}

export interface CarMessage {
  id: number;
  length: number;
  signals: CarSignal[];
  selector: CarSignal | null;
}

export interface MadeCar {
  capture: Capture;
  messages: CarMessage[];
}

export interface CarPlan {
  seconds: number;
  messages: number;
  /** Share of messages with a selector. */
  multiplexed: number;
}

export function madeCar(seed: number, plan: CarPlan): MadeCar {
  const dice = new Dice(seed + 7_000_003);
  const trip = tripOf(dice, plan.seconds);
  const order = dice.chance(0.6) ? 'big' : 'little';
  const style = dice.pick(['edges', 'any bit', 'any bit', 'dense'] as const);
  const poly = dice.pick([0x1d, 0x2f, 0x07, 0x9b]);
  const frames: { time: number; id: number; payload: Uint8Array }[] = [];
  const messages: CarMessage[] = [];
  for (let m = 0; m < plan.messages; m++) {
    const id = 0x100 + 23 * m;
    const senders = senderOf(dice, trip, {
      order,
      style,
      id,
      poly,
      multiplexed: dice.chance(plan.multiplexed),
    });
    messages.push(senders.message);
    const period = dice.pick([0.01, 0.02, 0.02, 0.05, 0.1, 0.1, 0.2, 0.5]);
    const phase = dice.between(0, period);
    for (let i = 0, t = phase; t < plan.seconds - STEP_S; i++, t = phase + i * period) {
      frames.push({
        time: t + dice.between(0, 0.0004),
        id,
        payload: senders.send(i, Math.floor(t / STEP_S)),
      });
    }
  }
  frames.sort((a, b) => a.time - b.time);
  const builder = new CaptureBuilder();
  for (const { time, id, payload } of frames) {
    builder.add(time, 0, id, 0, payload.length, payload, 0, payload.length);
  }
  return { capture: builder.finish(), messages };
}

interface SenderPlan {
  order: 'little' | 'big';
  style: 'edges' | 'any bit' | 'dense';
  id: number;
  poly: number;
  multiplexed: boolean;
}

interface Source extends CarSignal {
  raw: (i: number, step: number) => number;
}

function senderOf(dice: Dice, trip: readonly Quantity[], plan: SenderPlan) {
  const length = plan.multiplexed ? 8 : dice.pick([8, 8, 8, 8, 7, 6, 5, 4]);
  const free = new Uint8Array(8 * length).fill(1);
  const sources: Source[] = [];
  const place = (
    width: number,
    unit: number,
    where: Uint8Array,
  ): Pick<CarSignal, 'start' | 'length' | 'byteOrder'> | null => {
    const starts = Array.from({ length: 8 * length }, (_, p) => p).filter(
      (p) => p % unit === 0 || unit === 1,
    );
    for (let attempt = 0; attempt < 12; attempt++) {
      const at =
        plan.style === 'dense' && attempt === 0 ? firstFree(where, plan.order, length) : dice.pick(starts);
      const field = fieldAt(at, width, plan.order, length);
      if (field === null) continue;
      const bits = fieldBits(field);
      if (bits.some((bit) => !where[bit])) continue;
      for (const bit of bits) where[bit] = 0;
      return field;
    }
    return null;
  };
  let check: { start: number; poly: number; covers: number[] } | null = null;
  if (!plan.multiplexed && length > 3 && dice.chance(0.25)) {
    check = {
      start: 8 * (length - 1),
      poly: plan.poly,
      covers: Array.from({ length: length - 1 }, (_, b) => b),
    };
    for (let b = 0; b < 8; b++) free[check.start + b] = 0;
  }
  if (check || dice.chance(0.2)) {
    const field = place(4, plan.style === 'any bit' ? 1 : 4, free);
    const repeats = dice.chance(0.1) ? 2 : 1;
    if (field)
      sources.push({
        ...field,
        name: 'counter',
        signed: false,
        kind: 'counter',
        selectorValue: null,
        raw: (i) => Math.floor(i / repeats) % 16,
      });
  }
  let selector: Source | null = null;
  let valueAt = (_: number): number | null => null;
  const values: number[] = [];
  if (plan.multiplexed) {
    const width = dice.pick([2, 3, 4, 8]);
    const field = place(width, width === 8 ? 8 : dice.pick([1, 4]), free);
    if (field) {
      const count = dice.whole(2, Math.min(6, 2 ** width));
      const first = dice.chance(0.7) ? 0 : 1;
      for (let k = 0; k < count; k++) values.push((k + first) % 2 ** width);
      const repeats = dice.chance(0.2) ? dice.whole(2, 4) : 1;
      const cyclic = dice.chance(0.75);
      const drawn: number[] = [];
      valueAt = (i) => {
        if (cyclic) return values[Math.floor(i / repeats) % count] as number;
        while (drawn.length <= i) drawn.push(dice.pick(values));
        return drawn[i] as number;
      };
      selector = {
        ...field,
        name: 'selector',
        signed: false,
        kind: 'selector',
        selectorValue: null,
        raw: (i) => valueAt(i) as number,
      };
      sources.push(selector);
    }
  }
  const pages: { value: number | null; where: Uint8Array; many: number }[] = [];
  if (selector) {
    if (dice.chance(0.4))
      fill(dice, trip, plan, sources, (w, u) => place(w, u, free), null, dice.whole(1, 2));
    for (const value of values) pages.push({ value, where: free.slice(), many: dice.whole(1, 5) });
  } else pages.push({ value: null, where: free, many: dice.whole(2, 9) });
  for (const { value, where, many } of pages)
    fill(dice, trip, plan, sources, (w, u) => place(w, u, where), value, many);
  const idle = dice.chance(0.3) ? 0xff : 0;
  const used = new Set(sources.flatMap((s) => fieldBits(s)));
  const send = (i: number, step: number) => {
    const payload = new Uint8Array(length);
    if (idle)
      for (let bit = 0; bit < 8 * length; bit++)
        if (!used.has(bit)) payload[bit >> 3] = (payload[bit >> 3] as number) | (1 << (bit & 7));
    const page = valueAt(i);
    for (const source of sources) {
      if (source.selectorValue !== null && source.selectorValue !== page) continue;
      writeRaw(payload, 0, source, source.raw(i, step));
    }
    if (check) {
      const field = {
        start: check.start,
        length: 8,
        byteOrder: 'little' as const,
        algorithm: 'crc' as const,
        width: 8,
        poly: check.poly,
        init: 0xff,
        xorout: 0,
        reflected: false,
        covers: check.covers,
        prefix: [],
        suffix: [],
        idBytes: [],
        perCounter: null,
      };
      writeCheck(field, plan.id, payload, 0, length, undefined);
    }
    return payload;
  };
  const signals: CarSignal[] = sources.map(({ raw: _, ...signal }) => signal);
  if (check)
    signals.push({
      name: 'check',
      start: check.start,
      length: 8,
      byteOrder: 'little',
      signed: false,
      kind: 'check',
      selectorValue: null,
    });
  const message: CarMessage = {
    id: plan.id,
    length,
    signals,
    selector: signals.find(({ kind }) => kind === 'selector') ?? null,
  };
  return { message, send };
}

function fill(
  dice: Dice,
  trip: readonly Quantity[],
  plan: SenderPlan,
  sources: Source[],
  place: (width: number, unit: number) => Pick<CarSignal, 'start' | 'length' | 'byteOrder'> | null,
  selectorValue: number | null,
  many: number,
): void {
  for (let k = 0; k < many; k++) {
    const kind = dice.weighted({ number: 6, flag: 2, enum: 1 });
    const width =
      kind === 'flag'
        ? 1
        : kind === 'enum'
          ? dice.whole(2, 4)
          : plan.style === 'edges'
            ? dice.pick([8, 8, 16, 16, 12])
            : dice.whole(7, 17);
    const unit = plan.style === 'edges' ? (width >= 8 ? 8 : dice.pick([1, 2, 4])) : 1;
    const field = place(width, unit);
    if (field === null) continue;
    const common = { ...field, kind, selectorValue } as const;
    if (kind === 'flag')
      sources.push({ ...common, name: 'switch', signed: false, raw: switched(dice, trip) });
    else if (kind === 'enum')
      sources.push({ ...common, name: 'mode', signed: false, raw: modes(dice, trip, 2 ** width) });
    else sources.push({ ...common, ...measured(dice, dice.pick(trip), width) });
  }
}

function measured(dice: Dice, quantity: Quantity, width: number): Pick<Source, 'name' | 'signed' | 'raw'> {
  const signed = quantity.bipolar ? dice.pick([true, true, true, 'magnitude', false] as const) : false;
  const top = signed === false ? 2 ** width - 1 : 2 ** (width - 1) - 1;
  const offset = quantity.bipolar && signed === false ? quantity.span : 0;
  const scale = (dice.ratio(0.5, 1) * top) / (quantity.span + offset);
  const hold = dice.chance(0.15) ? dice.whole(2, 5) : 1;
  const low = signed === true ? -top - 1 : signed === 'magnitude' ? -top : 0;
  const raw = (i: number, step: number) => {
    const at = Math.max(0, step - (i % hold) * 10);
    const x = Math.round(((quantity.values[at] as number) + offset) * scale);
    return Math.max(low, Math.min(top, x)) + 0;
  };
  return { name: quantity.name, signed, raw };
}

/** On while some quantity of the trip is above a level, or pressed now and then. */
function switched(dice: Dice, trip: readonly Quantity[]): Source['raw'] {
  const { values } = dice.pick(trip);
  if (dice.chance(0.5)) {
    const sorted = Float64Array.from(values).sort();
    const level = sorted[Math.floor(dice.between(0.1, 0.9) * sorted.length)] as number;
    let on = 0;
    const margin = 0.02 * ((sorted[sorted.length - 1] as number) - (sorted[0] as number));
    return (_, step) => {
      const x = values[step] as number;
      if (x > level + margin) on = 1;
      else if (x < level - margin) on = 0;
      return on;
    };
  }
  const presses = pressesOf(dice, values.length, 2);
  return (_, step) => presses[step] as number;
}

function modes(dice: Dice, trip: readonly Quantity[], size: number): Source['raw'] {
  const presses = pressesOf(dice, trip[0]?.values.length ?? 0, Math.min(size, dice.whole(3, 6)));
  return (_, step) => presses[step] as number;
}

function pressesOf(dice: Dice, n: number, states: number): Uint8Array {
  const out = new Uint8Array(n);
  const rate = dice.ratio(6 / n, 60 / n);
  for (let i = 1; i < n; i++) out[i] = dice.chance(rate) ? dice.whole(0, states - 1) : (out[i - 1] as number);
  return out;
}

/** A field whose lowest bit (little-endian) or highest bit (big-endian, counted from byte 0 on) is at `at`. */
function fieldAt(
  at: number,
  width: number,
  order: 'little' | 'big',
  length: number,
): Pick<CarSignal, 'start' | 'length' | 'byteOrder'> | null {
  if (at + width > 8 * length) return null;
  const start = order === 'little' ? at : 8 * (at >> 3) + 7 - (at & 7);
  return { start, length: width, byteOrder: order };
}

function firstFree(where: Uint8Array, order: 'little' | 'big', length: number): number {
  for (let p = 0; p < 8 * length; p++)
    if (where[order === 'little' ? p : 8 * (p >> 3) + 7 - (p & 7)]) return p;
  return 0;
}
