/** One field of one message over a whole recording: every value, and the least and greatest of any stretch of time. */
import { type BitField, bytesNeeded, fieldReader, readBits, type Signedness } from '../../can/bits.ts';
import { FLAG } from '../../can/frame.ts';
import type { Capture } from '../store.ts';
import { boundOf, timeOrder } from './order.ts';

export interface FieldQuestion {
  bus: number;
  id: number;
  extended: boolean;
  field: BitField & { signed: Signedness };
  /** Only frames in which this field has this value. */
  selector: { field: BitField; value: number } | null;
}

export type FieldView =
  /** No more values than pixels: the values themselves, and one on either side of the view where there is one. */
  | { kind: 'single'; time: Float64Array; value: Float64Array }
  /** Least and greatest value in each of `pixels` cells of equal width from `start` on; NaN in a cell without a frame. */
  | { kind: 'cells'; start: number; cellS: number; low: Float64Array; high: Float64Array };

const FAN = 4;

export class FieldOverTime {
  /** Times of the values, rising, and raw values (rounded to doubles beyond 53 bits). Equal lengths. */
  readonly time: Float64Array;
  readonly value: Float64Array;
  /** Level k holds the least and greatest of 4^(k+1) values that follow one another. */
  readonly #low: Float64Array[] = [];
  readonly #high: Float64Array[] = [];

  /** One pass over the frames. Frames too short for the field are left out, as are remote frames and error messages. */
  constructor(capture: Capture, question: FieldQuestion) {
    const { time, value } = valuesOf(capture, question);
    this.time = time;
    this.value = value;
    let low: Float64Array = value;
    let high: Float64Array = value;
    while (low.length > FAN) {
      [low, high] = [coarser(low, Math.min), coarser(high, Math.max)];
      this.#low.push(low);
      this.#high.push(high);
    }
  }

  /** Least and greatest value of all; null where there is none. */
  range(): { low: number; high: number } | null {
    return this.#between(0, this.value.length);
  }

  /** What `[from, to]` looks like in so many pixels. A value at `to` itself belongs to the last pixel. */
  view(from: number, to: number, pixels: number): FieldView {
    const a = boundOf(this.time, from, 'low');
    const b = boundOf(this.time, to, 'high', a);
    if (b - a <= pixels) {
      const [start, end] = [Math.max(0, a - 1), Math.min(this.time.length, b + 1)];
      return { kind: 'single', time: this.time.slice(start, end), value: this.value.slice(start, end) };
    }
    const cellS = (to - from) / pixels;
    const low = new Float64Array(pixels).fill(Number.NaN);
    const high = new Float64Array(pixels).fill(Number.NaN);
    for (let cell = 0, at = a; cell < pixels; cell++) {
      const end = cell === pixels - 1 ? b : boundOf(this.time, from + (cell + 1) * cellS, 'low', at, b);
      const found = this.#between(at, end);
      if (found !== null) {
        low[cell] = found.low;
        high[cell] = found.high;
      }
      at = end;
    }
    return { kind: 'cells', start: from, cellS, low, high };
  }

  /** Of the values `[from, to)`: up the levels from both ends, as long as what lies between does not fill a group. */
  #between(from: number, to: number): { low: number; high: number } | null {
    if (from >= to) return null;
    let low = Number.POSITIVE_INFINITY;
    let high = Number.NEGATIVE_INFINITY;
    let [lows, highs] = [this.value, this.value];
    let [a, b] = [from, to];
    for (let level = 0; a < b; level++) {
      const upper = this.#low[level];
      const take = (i: number) => {
        low = Math.min(low, lows[i] as number);
        high = Math.max(high, highs[i] as number);
      };
      if (upper === undefined) {
        for (; a < b; a++) take(a);
        break;
      }
      for (; a < b && a % FAN !== 0; a++) take(a);
      for (; a < b && b % FAN !== 0; b--) take(b - 1);
      a /= FAN;
      b /= FAN;
      [lows, highs] = [upper, this.#high[level] as Float64Array];
    }
    return { low, high };
  }
}

function valuesOf(capture: Capture, { bus, id, extended, field, selector }: FieldQuestion) {
  const { count, flags, length, offset, payload } = capture;
  const needed = Math.max(bytesNeeded(field), selector === null ? 0 : bytesNeeded(selector.field));
  const ext = extended ? FLAG.extended : 0;
  const kind = FLAG.extended | FLAG.remote | FLAG.error;
  let rows = new Uint32Array(1024);
  let n = 0;
  for (let i = 0; i < count; i++) {
    if (capture.id[i] !== id || capture.bus[i] !== bus) continue;
    if (((flags[i] as number) & kind) !== ext || (length[i] as number) < needed) continue;
    if (selector !== null && readBits(payload, offset[i] as number, selector.field) !== selector.value)
      continue;
    if (n === rows.length) {
      const more = new Uint32Array(2 * n);
      more.set(rows);
      rows = more;
    }
    rows[n++] = i;
  }
  const read = fieldReader(field);
  const time = new Float64Array(n);
  const value = new Float64Array(n);
  for (let k = 0; k < n; k++) {
    const i = rows[k] as number;
    time[k] = capture.time[i] as number;
    value[k] = read(payload, offset[i] as number);
  }
  const order = timeOrder(time);
  return order === null
    ? { time, value }
    : {
        time: Float64Array.from(order, (k) => time[k] as number),
        value: Float64Array.from(order, (k) => value[k] as number),
      };
}

function coarser(values: Float64Array, pick: (a: number, b: number) => number): Float64Array {
  const out = new Float64Array(Math.ceil(values.length / FAN));
  for (let k = 0; k < out.length; k++) {
    let value = values[k * FAN] as number;
    for (let i = k * FAN + 1; i < Math.min(values.length, (k + 1) * FAN); i++)
      value = pick(value, values[i] as number);
    out[k] = value;
  }
  return out;
}
