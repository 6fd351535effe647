/**
 * Made-up messages with known fields, from which the weights of the cut are learned. Buses differ in byte order and in
 * how their fields keep to byte edges; messages hold numbers, states, flags, counters, check bytes, blocks of data and
 * bits that stand still. Everything follows from the seed.
 */
import type { MessageRows } from '../../src/findings/rows.ts';
import type { Dice } from './dice.ts';
import { anyCurve, type Curve } from './motion.ts';

export type Sign = boolean | 'magnitude';

export interface MadeField {
  order: 'little' | 'big';
  /** AUTOSAR numbers, least significant first. */
  bits: number[];
  kind: 'number' | 'flag' | 'enum' | 'counter' | 'check' | 'block';
  signed: Sign;
}

export interface MadeMessage {
  bus: number;
  rows: MessageRows;
  fields: MadeField[];
  /** 1 for the bits that check search and counter search take out before the cut, Uint8[8 × length]. */
  taken: Uint8Array;
}

type Style = 'bytes' | 'nibbles' | 'pairs' | 'free';

interface Bus {
  order: 'little' | 'big';
  style: Style;
  /** What unused bits hold. */
  idle: 'zeros' | 'ones' | 'either';
}

export function madeBus(dice: Dice, bus: number, messages: number): MadeMessage[] {
  const plan: Bus = {
    order: dice.chance(0.5) ? 'big' : 'little',
    style: dice.weighted({ bytes: 2, nibbles: 1, pairs: 2, free: 5 }),
    idle: dice.pick(['zeros', 'ones', 'either']),
  };
  return Array.from({ length: messages }, () => {
    const order = dice.chance(0.03) ? (plan.order === 'big' ? 'little' : 'big') : plan.order;
    return dice.chance(0.05) ? blockMessage(dice, bus) : plainMessage(dice, bus, { ...plan, order });
  });
}

function plainMessage(dice: Dice, bus: number, plan: Bus): MadeMessage {
  const length = dice.weighted({ '8': 8, '7': 0.7, '6': 1, '5': 0.6, '4': 1, '3': 0.4, '2': 0.5 });
  const bytes = Number(length);
  const n = Math.round(dice.ratio(24, 3000));
  const size = 8 * bytes;
  const payload = new Uint8Array(n * bytes);
  const idle = new Uint8Array(size);
  for (let b = 0; b < size; b++) {
    idle[b] = plan.idle === 'zeros' ? 0 : plan.idle === 'ones' ? 1 : dice.chance(0.3) ? 1 : 0;
  }
  const fields: MadeField[] = [];
  const taken = new Uint8Array(size);
  const used = new Uint8Array(size);
  const put = (field: MadeField, values: ArrayLike<number>) => {
    fields.push(field);
    field.bits.forEach((bit, place) => {
      used[bit] = 1;
      for (let i = 0; i < n; i++) {
        if (Math.floor((values[i] as number) / 2 ** place) % 2 === 1) {
          const at = i * bytes + (bit >> 3);
          payload[at] = (payload[at] as number) | (1 << (bit & 7));
        }
      }
    });
  };
  // Positions are counted from byte 0 on, in the order in which the fields of the lane follow one another.
  const bitAt = (place: number) => (plan.order === 'little' ? place : 8 * (place >> 3) + 7 - (place & 7));
  const stretch = (from: number, width: number): MadeField => {
    const bits = Array.from({ length: width }, (_, k) => bitAt(from + k));
    if (plan.order === 'big') bits.reverse();
    return { order: plan.order, bits, kind: 'number', signed: false };
  };
  let end = size;
  if (bytes > 2 && dice.chance(0.3)) {
    end -= 8;
    const field = { ...stretch(end, 8), kind: 'check' as const };
    put(
      field,
      Array.from({ length: n }, () => dice.whole(0, 255)),
    );
    // The search for check fields finds nearly all of them, so the cut seldom meets one.
    if (dice.chance(0.85)) for (const bit of field.bits) taken[bit] = 1;
  }
  const scene = sceneOf(dice, n);
  let at = 0;
  while (at < end) {
    const kind = dice.weighted({ number: 46, flag: 18, enum: 14, padding: 17, counter: 5 });
    const width = Math.min(widthOf(dice, plan.style, kind), 32);
    at = aligned(dice, plan.style, at, width);
    if (at + width > end) {
      if (end - at < 4 || dice.chance(0.5)) break;
      at++;
      continue;
    }
    const field = stretch(at, width);
    at += width;
    if (kind === 'padding') continue;
    field.kind = width === 1 ? 'flag' : kind;
    if (kind === 'flag' || width === 1) put(field, flagValues(dice, n, scene));
    else if (kind === 'enum') put(field, enumValues(dice, n, width, scene));
    else if (kind === 'counter') {
      put(field, counterValues(dice, n, width));
      if (dice.chance(0.5)) for (const bit of field.bits) taken[bit] = 1;
    } else {
      const { values, signed } = numberValues(dice, n, width, scene);
      field.signed = signed;
      put(field, values);
    }
  }
  for (let bit = 0; bit < size; bit++) {
    if (used[bit] || !idle[bit]) continue;
    for (let i = 0, p = bit >> 3; i < n; i++, p += bytes)
      payload[p] = (payload[p] as number) | (1 << (bit & 7));
  }
  return { bus, rows: rowsOf(dice, bus, bytes, n, payload, scene.begins), fields, taken };
}

/** Blocks of long messages sent in pieces: a running number, then seven bytes that are no numbers of their own. */
function blockMessage(dice: Dice, bus: number): MadeMessage {
  const bytes = 8;
  const n = Math.round(dice.ratio(24, 800));
  const text = dice.chance(0.5);
  const byte = () =>
    text ? dice.whole(32, 122) : dice.chance(0.3) ? dice.pick([0, 255]) : dice.whole(0, 255);
  const long = Array.from({ length: dice.whole(1, 3) }, () =>
    Array.from({ length: dice.whole(2, 9) }, () => Uint8Array.from({ length: 7 }, byte)),
  );
  const changing = dice.chance(0.4) ? dice.ratio(0.005, 0.1) : 0;
  const payload = new Uint8Array(n * bytes);
  let message = dice.pick(long);
  for (let i = 0, k = 0; i < n; i++, k++) {
    if (k === message.length) {
      message = dice.pick(long);
      k = 0;
    }
    const content = message[k] as Uint8Array;
    if (dice.chance(changing)) content[dice.whole(0, 6)] = byte();
    payload[8 * i] = 1 + k;
    payload.set(content, 8 * i + 1);
  }
  const little = (start: number, width: number, kind: MadeField['kind']): MadeField => ({
    order: 'little',
    bits: Array.from({ length: width }, (_, b) => start + b),
    kind,
    signed: false,
  });
  return {
    bus,
    rows: rowsOf(dice, bus, bytes, n, payload, sceneOf(dice, n).begins),
    fields: [little(0, 8, 'counter'), little(8, 56, 'block')],
    taken: new Uint8Array(64),
  };
}

function widthOf(dice: Dice, style: Style, kind: string): number {
  if (kind === 'flag') return style === 'pairs' && dice.chance(0.7) ? 2 : 1;
  if (kind === 'enum') return style === 'pairs' ? dice.pick([2, 2, 4, 8]) : dice.whole(2, 4);
  if (kind === 'counter') return style === 'free' ? dice.whole(2, 8) : dice.pick([2, 4, 4, 4, 8]);
  if (kind === 'padding') return style === 'free' ? dice.whole(1, 9) : dice.pick([1, 2, 4, 8, 8, 16]);
  if (style === 'free') return dice.chance(0.1) ? dice.whole(17, 28) : dice.whole(3, 16);
  if (style === 'pairs') return dice.pick([8, 8, 8, 16, 16, 16, 24, 32, 32]);
  if (style === 'nibbles') return dice.pick([4, 8, 12, 12, 16, 20]);
  return dice.pick([8, 8, 16, 16, 10, 12, 24, 32]);
}

function aligned(dice: Dice, style: Style, at: number, width: number): number {
  const unit =
    style === 'free'
      ? 1
      : style === 'nibbles'
        ? width >= 4
          ? 4
          : 1
        : width >= 8
          ? 8
          : style === 'pairs'
            ? 2
            : dice.pick([1, 1, 4]);
  return Math.ceil(at / unit) * unit;
}

/** What the fields of one message share: moments at which things happen, how often it is renewed, earlier curves. */
interface Scene {
  events: Uint8Array;
  /** The message is renewed only every so many frames. */
  hold: number;
  curves: Curve[];
  begins: Uint8Array;
}

function sceneOf(dice: Dice, n: number): Scene {
  const events = new Uint8Array(n);
  const rate = dice.ratio(0.002, 0.05);
  for (let i = 0; i < n; i++) events[i] = dice.chance(rate) ? 1 : 0;
  const begins = new Uint8Array(n);
  begins[0] = 1;
  if (n > 200 && dice.chance(0.2)) {
    for (let k = dice.whole(1, 4); k > 0; k--) begins[dice.whole(20, n - 20)] = 1;
  }
  return { events, hold: dice.chance(0.15) ? dice.whole(2, 7) : 1, curves: [], begins };
}

function curveOf(dice: Dice, n: number, scene: Scene): Curve {
  const source = scene.curves[dice.whole(0, scene.curves.length - 1)];
  if (source === undefined || dice.chance(0.65)) {
    const curve = anyCurve(dice, n);
    scene.curves.push(curve);
    return curve;
  }
  // Derived from an earlier one: gain, noise, lag.
  const lag = dice.chance(0.5) ? 0 : dice.whole(1, 10);
  const gain = dice.chance(0.4) ? 1 : dice.between(0.3, 1);
  const noise = dice.chance(0.4) ? 0 : dice.ratio(0.0003, 0.05);
  const soft = dice.chance(0.3) ? dice.ratio(0.03, 0.5) : 1;
  const sign = source.bipolar && dice.chance(0.2) ? -1 : 1;
  const values = new Float64Array(n);
  let x = source.values[0] as number;
  for (let i = 0; i < n; i++) {
    x += soft * ((source.values[Math.max(0, i - lag)] as number) - x);
    values[i] = sign * gain * x + noise * dice.normal();
  }
  return { values, bipolar: source.bipolar };
}

function numberValues(
  dice: Dice,
  n: number,
  width: number,
  scene: Scene,
): { values: Float64Array; signed: Sign } {
  const whole = 2 ** width;
  if (dice.chance(width >= 24 ? 0.25 : 0.05) && width >= 8)
    return { values: clockValues(dice, n, whole), signed: false };
  if (dice.chance(0.06)) return { values: rareValues(dice, n, whole), signed: false };
  const parked = dice.chance(0.2);
  const curve = curveOf(dice, n, scene);
  let signed: Sign = false;
  if (curve.bipolar && dice.chance(0.8)) signed = dice.chance(0.3) ? 'magnitude' : true;
  const used = dice.chance(0.5) ? 1 : dice.ratio(1 / 32, 1);
  const steps = dice.chance(0.25) ? dice.ratio(1.25, 12.8) : 1;
  const hold = dice.chance(0.25) ? dice.whole(2, 12) : scene.hold;
  const top = signed === false ? whole - 1 : whole / 2 - 1;
  const low = signed === false && used < 1 && dice.chance(0.5) ? dice.next() * (1 - used) * whole : 0;
  const level = parkedLevel(dice, whole, signed);
  const spread = dice.ratio(0.2, 6);
  const noise = dice.chance(0.5) ? 0 : dice.ratio(0.2, Math.max(0.3, whole / 64));
  const values = new Float64Array(n);
  let kept = 0;
  let unwell = dice.chance(0.08) ? dice.whole(1, Math.max(1, n >> 2)) : 0;
  const shift = curve.bipolar && signed === false ? 0.5 : 0;
  for (let i = 0; i < n; i++) {
    const x = curve.values[i] as number;
    if (i % hold === 0 || i === 0) {
      let y = parked
        ? level + spread * x * (curve.bipolar ? 1 : 2)
        : low + used * top * (shift > 0 ? 0.5 + x / 2 : x);
      y += noise * dice.normal();
      y = Math.round(Math.round(y / steps) * steps);
      kept = Math.max(signed === false ? 0 : signed === true ? -whole / 2 : -top, Math.min(top, y));
    }
    const missing = signed === true ? whole / 2 - 1 : whole - 1;
    if (unwell > 0) {
      unwell--;
      values[i] = missing;
    } else if (signed === 'magnitude') values[i] = kept < 0 ? whole / 2 - kept : kept;
    else values[i] = kept < 0 ? kept + whole : kept;
  }
  return { values, signed };
}

/** Near the edge of a carry as often as anywhere else: a value at rest that hops over it moves many bits at once. */
function parkedLevel(dice: Dice, whole: number, signed: Sign): number {
  if (signed !== false) return dice.chance(0.5) ? 0 : (dice.next() - 0.5) * whole;
  const place = dice.whole(1, Math.max(1, Math.log2(whole) - 1));
  const level = dice.next() * whole;
  return dice.chance(0.5) ? level : Math.round(level / 2 ** place) * 2 ** place;
}

/** Another value now and then, near the last one or anywhere: a quantity that hardly changes, a number of something. */
function rareValues(dice: Dice, n: number, whole: number): Float64Array {
  const values = new Float64Array(n);
  const rate = dice.ratio(1, 12) / n;
  const near = dice.ratio(1, whole);
  const known = [Math.floor(dice.next() * whole)];
  let x = known[0] as number;
  for (let i = 0; i < n; i++) {
    if (dice.chance(rate)) {
      if (dice.chance(0.4)) x = dice.pick(known);
      else x = Math.max(0, Math.min(whole - 1, Math.round(x + dice.between(-1, 1) * near)));
      known.push(x);
    }
    values[i] = x;
  }
  return values;
}

/** Times and distances that grow by one step a frame, now and then by a little more or less. */
function clockValues(dice: Dice, n: number, whole: number): Float64Array {
  const values = new Float64Array(n);
  const step = dice.chance(0.5)
    ? dice.pick([1, 5, 10, 20, 100, 1000, 10000])
    : Math.round(dice.ratio(2, whole / 8));
  const shaky = dice.chance(0.4) ? dice.ratio(0.01, 0.5) : 0;
  const repeats = dice.chance(0.3) ? dice.whole(2, 20) : 1;
  let x = Math.floor(dice.next() * whole);
  for (let i = 0; i < n; i++) {
    if (i % repeats === 0) x += step + (dice.chance(shaky) ? dice.whole(-1, 1) : 0);
    values[i] = ((x % whole) + whole) % whole;
  }
  return values;
}

function flagValues(dice: Dice, n: number, scene: Scene): Float64Array {
  const values = new Float64Array(n);
  const shared = dice.chance(0.15);
  const rate = dice.ratio(Math.min(0.05, 0.8 / n), 0.1);
  let on = dice.chance(0.3) ? 1 : 0;
  for (let i = 0; i < n; i++) {
    if (shared ? scene.events[i] && dice.chance(0.7) : dice.chance(rate)) on ^= 1;
    values[i] = on;
  }
  return values;
}

function enumValues(dice: Dice, n: number, width: number, scene: Scene): Float64Array {
  const values = new Float64Array(n);
  const count = dice.whole(2, Math.min(2 ** width, 6));
  const states = Array.from({ length: count }, (_, k) =>
    dice.chance(0.6) ? k : dice.whole(0, 2 ** width - 1),
  );
  const rate = dice.ratio(Math.min(0.05, 1 / n), 0.08);
  const shared = dice.chance(0.3);
  const inOrder = dice.chance(0.4);
  let at = 0;
  for (let i = 0; i < n; i++) {
    if (shared ? scene.events[i] && dice.chance(0.7) : dice.chance(rate)) {
      at = inOrder ? Math.max(0, Math.min(count - 1, at + dice.pick([-1, 1]))) : dice.whole(0, count - 1);
    }
    values[i] = states[at] as number;
  }
  return values;
}

function counterValues(dice: Dice, n: number, width: number): Float64Array {
  const cycle = 2 ** width - (width > 2 && dice.chance(0.15) ? dice.whole(1, 3) : 0);
  const repeats = dice.chance(0.15) ? dice.whole(2, 4) : 1;
  const from = dice.whole(0, cycle - 1);
  const lost = dice.chance(0.3) ? 0.01 : 0;
  const values = new Float64Array(n);
  for (let i = 0, x = from; i < n; i++) {
    if (i % repeats === 0) x += dice.chance(lost) ? 2 : 1;
    values[i] = x % cycle;
  }
  return values;
}

function rowsOf(
  dice: Dice,
  bus: number,
  length: number,
  count: number,
  payload: Uint8Array,
  begins: Uint8Array,
): MessageRows {
  const period = dice.pick([0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1]);
  return {
    bus,
    id: dice.whole(1, 0x7ff),
    extended: false,
    length,
    count,
    otherLength: 0,
    payload,
    time: Float64Array.from({ length: count }, (_, i) => i * period),
    begins,
  };
}
