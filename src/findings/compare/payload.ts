/** What the frames of one message did bit by bit and as wholes, for holding two recordings against each other. */
import { fieldBits, fieldReader } from '../../can/bits.ts';
import { checkFunction } from '../../can/check.ts';
import type { FoundCheck, FoundCounter, FoundSignal } from '../model.ts';
import type { MessageRows } from '../rows.ts';

/** Frames in which the check field holds, of those looked at. */
export function checkAgrees(rows: MessageRows, check: FoundCheck, counter: FoundCounter | null): Share {
  const value = checkFunction(check);
  const read = fieldReader({ ...check, signed: false });
  const count = counter ? fieldReader({ ...counter, signed: false }) : null;
  let agree = 0;
  let looked = 0;
  const stride = Math.max(1, Math.floor(rows.count / 2000));
  for (let i = 0; i < rows.count; i += stride) {
    const from = i * rows.length;
    const counting = count ? count(rows.payload, from) : undefined;
    looked++;
    if (read(rows.payload, from) === value(rows.id, rows.payload, from, rows.length, counting)) agree++;
  }
  return { agree, looked };
}

/** Steps that the counter makes as it should, or by a few missed frames. */
export function counterAgrees(rows: MessageRows, counter: FoundCounter): Share {
  const read = fieldReader({ ...counter, signed: false });
  const values = 2 ** counter.length;
  let agree = 0;
  let looked = 0;
  for (let i = 1; i < Math.min(rows.count, 4000); i++) {
    if (rows.begins[i]) continue;
    const before = read(rows.payload, (i - 1) * rows.length);
    let next = (before + counter.step) % values;
    for (let k = 0; k < counter.skip.length && counter.skip.includes(next); k++)
      next = (next + counter.step) % values;
    looked++;
    if (read(rows.payload, i * rows.length) === next) agree++;
  }
  return { agree, looked };
}

export interface Share {
  agree: number;
  looked: number;
}

/** Stretches of a recording that are looked at apart: changes within one of them count once. */
export const STRETCHES = 20;

/** First value of every bit, and in how many of twenty stretches of the recording it changed. */
export function bitsOf(rows: MessageRows): { first: Uint8Array; stretches: Uint32Array } {
  const bits = 8 * rows.length;
  const first = new Uint8Array(bits);
  const stretches = new Uint32Array(bits);
  const latest = new Int32Array(bits).fill(-1);
  for (let b = 0; b < bits; b++) first[b] = ((rows.payload[b >> 3] as number) >> (b & 7)) & 1;
  for (let i = 1; i < rows.count; i++) {
    const stretch = Math.floor((STRETCHES * i) / rows.count);
    for (let byte = 0; byte < rows.length; byte++) {
      const at = i * rows.length + byte;
      let changed = (rows.payload[at] as number) ^ (rows.payload[at - rows.length] as number);
      while (changed !== 0) {
        const bit = 8 * byte + 31 - Math.clz32(changed & -changed);
        if (latest[bit] !== stretch) {
          latest[bit] = stretch;
          stretches[bit] = (stretches[bit] as number) + 1;
        }
        changed &= changed - 1;
      }
    }
  }
  return { first, stretches };
}

export interface Spread {
  low: number;
  high: number;
  /** Journeys between the lower and the upper third of the range: how often it really went there. */
  journeys: number;
}

/** Range of a signal's raw values, and how often it went through it. */
export function spreadOfSignal(rows: MessageRows, signal: FoundSignal): Spread {
  const read = fieldReader(signal);
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < rows.count; i++) {
    const v = read(rows.payload, i * rows.length);
    if (v < low) low = v;
    if (v > high) high = v;
  }
  const third = (high - low) / 3;
  let journeys = 0;
  let side = 0;
  for (let i = 0; i < rows.count; i++) {
    const v = read(rows.payload, i * rows.length);
    const now = v < low + third ? -1 : v > high - third ? 1 : side;
    if (now !== side && side !== 0) journeys++;
    side = now;
  }
  return { low, high, journeys };
}

/** Visits to values outside `low … high`, and the share of frames spent there. */
export function outside(
  rows: MessageRows,
  signal: FoundSignal,
  { low, high }: Spread,
): { visits: number; share: number } {
  const read = fieldReader(signal);
  let visits = 0;
  let frames = 0;
  let out = false;
  for (let i = 0; i < rows.count; i++) {
    const v = read(rows.payload, i * rows.length);
    const now = v < low || v > high;
    if (now) frames++;
    if (now && !out) visits++;
    out = now;
  }
  return { visits, share: frames / Math.max(1, rows.count) };
}

/** Bits of all fields that a counter or a check explains. */
export function explained(counter: FoundCounter | null, check: FoundCheck | null): Set<number> {
  return new Set([...(counter ? fieldBits(counter) : []), ...(check ? fieldBits(check) : [])]);
}
