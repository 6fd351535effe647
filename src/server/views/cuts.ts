/**
 * Other cuts of a field and how each of them moves: a number that is cut right goes from frame to frame in small steps; one that
 * is cut at the wrong bit, read in the wrong byte order or with the wrong sign jumps across its range. Counts only, no verdict.
 */
import { type BitField, bytesNeeded, fieldBits, fieldReader, type Signedness } from '../../can/bits.ts';
import { groupByMessage } from '../../capture/select.ts';
import type { Capture } from '../../capture/store.ts';
import type { FoundMessage } from '../../findings/model.ts';

export interface Cut extends BitField {
  signed: Signedness;
}

/** `GET /api/captures/:name/cuts?…`, asked as in `SeriesReply`. */
export interface CutsReply {
  frames: number;
  /** The cut that was asked for first, then others that touch it. */
  cuts: (Cut & {
    /** "as found", "with the 4 bits above", "big-endian", "signed". */
    words: string;
    /** Steps from frame to frame, and those over half of all that the field can hold. */
    steps: number;
    jumps: number;
    /** Mean step as a share of the range that the values took; null where it never moved. */
    roughness: number | null;
    low: number;
    high: number;
  })[];
}

/** `selector`: only frames whose selector has that value. */
export function cutsView(
  capture: Capture,
  message: FoundMessage,
  found: Cut,
  selector: { field: BitField; value: number } | null,
): CutsReply {
  const frames = framesOf(capture, message, found, selector);
  const cuts = [{ words: 'as found', ...found }, ...othersOf(message, found)];
  return { frames: frames.length, cuts: cuts.map((cut) => ({ ...cut, ...motionOf(capture, frames, cut) })) };
}

function framesOf(
  capture: Capture,
  message: FoundMessage,
  found: Cut,
  selector: { field: BitField; value: number } | null,
): Uint32Array {
  const frames =
    groupByMessage(capture).find(
      (g) => g.bus === message.bus && g.id === message.id && g.extended === message.extended,
    )?.frames ?? new Uint32Array(0);
  const needed = Math.max(message.length, bytesNeeded(found));
  const value = selector && fieldReader({ ...selector.field, signed: false });
  return frames.filter((f) => {
    if ((capture.length[f] as number) < needed) return false;
    return !value || value(capture.payload, capture.offset[f] as number) === selector?.value;
  });
}

function othersOf(message: FoundMessage, found: Cut): (Cut & { words: string })[] {
  const { start, length, byteOrder, signed } = found;
  const others: (Cut & { words: string })[] = [];
  const add = (words: string, cut: Partial<Cut>) => {
    const whole = { ...found, ...cut, words };
    const bits = fieldBits(whole);
    const fits = bits.length === whole.length && bits.every((bit) => bit >= 0 && bit < 8 * message.length);
    if (whole.length >= 1 && whole.length <= 32 && fits && !isTaken(message, bits)) others.push(whole);
  };
  for (const byteOrderTried of orders(found)) {
    const order = byteOrderTried === byteOrder ? '' : `, ${byteOrderTried}-endian`;
    const tried = { ...found, byteOrder: byteOrderTried, start: startAs(found, byteOrderTried) };
    for (const neighbour of message.signals) {
      if (neighbour.kind === 'selector' || isSame(neighbour, found)) continue;
      const joined = joinedWith(tried, neighbour);
      const many = `${neighbour.length} ${neighbour.length === 1 ? 'bit' : 'bits'}`;
      if (joined)
        add(`with the ${many} ${joined.side}${order}`, { ...joined.cut, byteOrder: byteOrderTried });
    }
  }
  const edge = byteOrder === 'little' ? 0 : 7;
  if (length > 8 && length % 8 === 0 && start % 8 === edge) {
    const other = byteOrder === 'little' ? 'big' : 'little';
    add(`${other}-endian`, { byteOrder: other, start: start - edge + (7 - edge) });
  }
  if (length > 1) add(signed === false ? 'signed' : 'without sign', { signed: signed === false });
  return others.filter((cut, i) => others.findIndex((o) => isSame(o, cut) && o.signed === cut.signed) === i);
}

/** A field within one byte is the same in both orders, and may go on in either. */
function orders(found: Cut): ('little' | 'big')[] {
  const bits = fieldBits(found);
  const within = bits.every((bit) => bit >> 3 === (bits[0] as number) >> 3);
  return within ? ['little', 'big'] : [found.byteOrder];
}

function startAs(found: Cut, byteOrder: 'little' | 'big'): number {
  if (byteOrder === found.byteOrder) return found.start;
  const bits = fieldBits(found);
  return byteOrder === 'little' ? Math.min(...bits) : Math.max(...bits);
}

/** Both as one field in the order of the first, where they touch in significance. */
function joinedWith(
  found: Cut,
  neighbour: BitField,
): { side: 'above' | 'below'; cut: { start: number; length: number } } | null {
  const length = found.length + neighbour.length;
  const wanted = new Set([...fieldBits(found), ...fieldBits(neighbour)]);
  const mine = fieldBits(found);
  for (const side of ['above', 'below'] as const) {
    const little = side === 'above' ? found.start : Math.min(...fieldBits(neighbour));
    const big = side === 'above' ? topOf(neighbour) : found.start;
    const start = found.byteOrder === 'little' ? little : big;
    const bits = fieldBits({ start, length, byteOrder: found.byteOrder });
    if (!bits.every((bit) => wanted.has(bit))) continue;
    const own = side === 'above' ? bits.slice(0, mine.length) : bits.slice(-mine.length);
    if (own.every((bit, i) => bit === mine[i])) return { side, cut: { start, length } };
  }
  return null;
}

/** Where a big-endian field begins that has the bits of this one at its upper end. */
function topOf(field: BitField): number {
  return fieldBits(field).at(-1) as number;
}

function isTaken({ counter, check }: FoundMessage, bits: readonly number[]): boolean {
  const taken = [counter, check].flatMap((field) => (field ? fieldBits(field) : []));
  return bits.some((bit) => taken.includes(bit));
}

function isSame(a: BitField, b: BitField): boolean {
  return a.start === b.start && a.length === b.length && (a.length === 1 || a.byteOrder === b.byteOrder);
}

function motionOf(capture: Capture, frames: Uint32Array, cut: Cut) {
  const read = fieldReader(cut);
  const half = 2 ** (cut.length - 1);
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  let jumps = 0;
  let sum = 0;
  let last = Number.NaN;
  for (const f of frames) {
    const value = read(capture.payload, capture.offset[f] as number);
    if (value < low) low = value;
    if (value > high) high = value;
    if (!Number.isNaN(last)) {
      const step = Math.abs(value - last);
      sum += step;
      if (step > half) jumps++;
    }
    last = value;
  }
  const steps = Math.max(0, frames.length - 1);
  const roughness = high > low && steps > 0 ? sum / steps / (high - low) : null;
  return frames.length === 0
    ? { steps, jumps, roughness, low: 0, high: 0 }
    : { steps, jumps, roughness, low, high };
}
