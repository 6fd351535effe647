/** Fields that could be the selector of a multiplexed message, and how their values follow one another. */
import { fieldBits } from '../can/bits.ts';
import type { MultiplexorOptions } from './multiplexor.ts';
import type { Pieces } from './multiplexorEvidence.ts';
import { type MessageRows, movingBits } from './rows.ts';

const WIDEST = 8;
const MOST_VALUES = 40;
/** Share of frames at which the selector must change: a field that rests for long explains nothing. */
const LEAST_CHANGES = 0.08;
/** No layout is sent for this many frames on end: a sign that keeps for a whole bend is no selector. */
const LONGEST_REST = 32;

export interface Candidate {
  field: { start: number; length: number; byteOrder: 'little' | 'big' };
  /** AUTOSAR numbers, least significant first. */
  bits: number[];
  /** Running numbers of the values, by piece frame, and how many there are. */
  ranks: Uint8Array;
  values: number[];
  /** The bit above flips when, and only when, the field starts again. */
  carries: boolean;
}

/** Stretches of up to eight bits, both ends moving, that take few values and change often; in either byte order. */
export function* candidatesOf(
  rows: MessageRows,
  pieces: Pieces,
  { taken, counter }: MultiplexorOptions,
): Generator<Candidate> {
  const { length, payload } = rows;
  const moving = movingBits(rows);
  const moves = (bit: number) => !taken[bit] && (((moving[bit >> 3] as number) >> (bit & 7)) & 1) === 1;
  const counting = new Set(counter ? fieldBits(counter) : []);
  const n = pieces.frames.length;
  const whole = new Uint32Array(n);
  for (const byteOrder of ['little', 'big'] as const) {
    for (let lowest = 0; lowest < 8 * length; lowest++) {
      if (!moves(lowest)) continue;
      whole.fill(0);
      const bits: number[] = [];
      for (let bit = lowest; bits.length < WIDEST && bit >= 0 && bit < 8 * length && !taken[bit]; ) {
        const place = bits.length;
        bits.push(bit);
        for (let k = 0; k < n; k++) {
          const byte = payload[(pieces.frames[k] as number) * length + (bit >> 3)] as number;
          whole[k] = (whole[k] as number) | (((byte >> (bit & 7)) & 1) << place);
        }
        const crosses = bit >> 3 !== lowest >> 3;
        if (moves(bit) && (byteOrder === 'little' || crosses) && !partOf(bits, counting)) {
          const ranked = ranksOf(whole, pieces);
          if (ranked) {
            const field = {
              start: byteOrder === 'little' ? lowest : bit,
              length: bits.length,
              byteOrder,
            };
            const above = bitAbove(bit, byteOrder);
            const carries = above < 8 * length && above >= 0 && carriesInto(rows, pieces, ranked, above);
            yield { field, bits: bits.slice(), ...ranked, carries };
          }
        }
        bit = bitAbove(bit, byteOrder);
      }
    }
  }
}

/** The bit of next higher significance; below 0 or beyond the payload where there is none. */
export function bitAbove(bit: number, order: 'little' | 'big'): number {
  return (bit & 7) < 7 || order === 'little' ? bit + 1 : bit - 15;
}

/** The bit of next lower significance. */
export function bitBelow(bit: number, order: 'little' | 'big'): number {
  return (bit & 7) > 0 || order === 'little' ? bit - 1 : bit + 15;
}

function carriesInto(
  { payload, length }: MessageRows,
  { frames, begins }: Pieces,
  { ranks, values }: Pick<Candidate, 'ranks' | 'values'>,
  above: number,
): boolean {
  const highest = values.indexOf(Math.max(...values));
  const lowest = values.indexOf(Math.min(...values));
  const read = (k: number) =>
    ((payload[(frames[k] as number) * length + (above >> 3)] as number) >> (above & 7)) & 1;
  let rolls = 0;
  let flips = 0;
  let both = 0;
  for (let k = 1; k < ranks.length; k++) {
    if (begins[k]) continue;
    const roll = ranks[k - 1] === highest && ranks[k] === lowest;
    const flip = read(k) !== read(k - 1);
    if (roll) rolls++;
    if (flip) flips++;
    if (roll && flip) both++;
  }
  return both >= 4 && both >= 0.9 * Math.max(rolls, flips);
}

/** A piece of a counter counts as the counter does and explains what it explains; the whole of it may be the selector. */
function partOf(bits: readonly number[], counting: ReadonlySet<number>): boolean {
  const shared = bits.filter((bit) => counting.has(bit)).length;
  return shared > 0 && !(shared === counting.size && shared === bits.length);
}

/** Null where there are too many values, or changes are too rare or too far apart. */
function ranksOf(whole: Uint32Array, pieces: Pieces): { ranks: Uint8Array; values: number[] } | null {
  const rank = new Int16Array(2 ** WIDEST).fill(-1);
  const values: number[] = [];
  const ranks = new Uint8Array(whole.length);
  let changes = 0;
  let run = 0;
  for (let k = 0; k < whole.length; k++) {
    const value = whole[k] as number;
    let r = rank[value] as number;
    if (r < 0) {
      if (values.length === MOST_VALUES) return null;
      r = values.length;
      rank[value] = r;
      values.push(value);
    }
    ranks[k] = r;
    run = k > 0 && !pieces.begins[k] && ranks[k - 1] === r ? run + 1 : 0;
    if (run > LONGEST_REST) return null;
    if (k > 0 && !pieces.begins[k] && run === 0) changes++;
  }
  return values.length >= 2 && changes >= LEAST_CHANGES * whole.length ? { ranks, values } : null;
}

/**
 * Share of the changes of a field that its last two values and the time since tell beforehand: 1 where the layouts are sent
 * in turn, each once or some times.
 */
export function scheduled({ ranks }: Candidate, { begins }: Pieces): number {
  const next = new Map<number, Map<number, number>>();
  const steps: [context: number, to: number][] = [];
  let run = 0;
  let was = -1;
  for (let k = 0; k < ranks.length; k++) {
    if (begins[k]) {
      run = 0;
      was = -1;
    } else {
      const now = ranks[k - 1] as number;
      const context = ((was + 1) * 64 + now) * 16 + Math.min(run, 15);
      const to = ranks[k] as number;
      const counts = next.get(context) ?? new Map<number, number>();
      next.set(context, counts.set(to, (counts.get(to) ?? 0) + 1));
      if (to !== now) steps.push([context, to]);
      if (to !== now) was = now;
    }
    run = k > 0 && !begins[k] && ranks[k] === ranks[k - 1] ? run + 1 : 0;
  }
  let told = 0;
  for (const [context, to] of steps) {
    const counts = next.get(context) as Map<number, number>;
    const own = counts.get(to) as number;
    const all = [...counts.values()].reduce((sum, count) => sum + count, 0);
    if (own > 1 && own >= SURE_SHARE * all) told++;
  }
  return told / Math.max(1, steps.length);
}

/** Share of like moments at which the same must follow to be foretold. */
const SURE_SHARE = 0.8;

const MEMORY_FRAMES = 5;

/** Mutual information of the value and that of some frames ago, in nats, less what chance alone gives (Miller 1955). */
export function memoryOf({ ranks, values }: Candidate, { begins }: Pieces): number {
  const k = values.length;
  const joint = new Float64Array(k * k);
  const now = new Float64Array(k);
  const then = new Float64Array(k);
  let n = 0;
  let since = 0;
  for (let i = 0; i < ranks.length; i++) {
    since = begins[i] ? 0 : since + 1;
    if (since < MEMORY_FRAMES) continue;
    const [a, b] = [ranks[i - MEMORY_FRAMES] as number, ranks[i] as number];
    joint[a * k + b] = (joint[a * k + b] as number) + 1;
    then[a] = (then[a] as number) + 1;
    now[b] = (now[b] as number) + 1;
    n++;
  }
  let sum = 0;
  for (let a = 0; a < k; a++) {
    for (let b = 0; b < k; b++) {
      const count = joint[a * k + b] as number;
      if (count > 0) sum += count * Math.log((count * n) / ((then[a] as number) * (now[b] as number)));
    }
  }
  return (sum - (k - 1) ** 2 / 2) / Math.max(1, n);
}
