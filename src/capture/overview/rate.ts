/** Frames per second of each bus over a whole recording, in levels each four times as coarse as the one below. */
import { FLAG } from '../../can/frame.ts';
import { timeSpan } from '../span.ts';
import type { Capture } from '../store.ts';

/** Shorter than this a count of frames says more of chance than of the bus, seconds. */
const CELL_S = 0.1;
/** Cells of the finest level at most; a recording longer than a day gets wider ones. */
const MOST_CELLS = 1 << 20;
const FAN = 4;

/** Frames per second in cells of equal width; cell i covers `start + i × cellS` onward. */
export interface RateView {
  start: number;
  cellS: number;
  buses: {
    bus: number;
    /** Mean, least and greatest rate within each cell, frames per second, Float32[cells]. */
    mean: Float32Array;
    low: Float32Array;
    high: Float32Array;
  }[];
}

interface Level {
  cells: number;
  /** Frames, and the least and greatest count of one finest cell, per coarse cell. */
  sum: Uint32Array;
  low: Uint32Array;
  high: Uint32Array;
}

export class RateOverTime {
  /** Earliest and latest time, seconds. */
  readonly first: number;
  readonly last: number;
  /** Width of a cell of the finest level, seconds. */
  readonly cellS: number;
  /** Bus numbers, rising. */
  readonly buses: readonly number[];
  /** Frames of each bus, error messages left out. */
  readonly frames: readonly number[];
  readonly #levels: readonly (readonly Level[])[];

  /** One pass over the frames; error messages of the interface are not frames and do not count. */
  constructor({ count, time, bus, flags }: Pick<Capture, 'count' | 'time' | 'bus' | 'flags'>) {
    const { first, last, seconds } = timeSpan(time);
    this.first = first;
    this.last = last;
    this.cellS = Math.max(CELL_S, seconds / (MOST_CELLS - 1));
    const cells = Math.floor(seconds / this.cellS) + 1;
    const counts: (Uint32Array | undefined)[] = new Array(256).fill(undefined);
    // Frames of one bus and one cell follow one another: only where that changes is there something to work out.
    let number = -1;
    let lane: Uint32Array = new Uint32Array(0);
    let cell = 0;
    let from = 0;
    let to = 0;
    for (let i = 0; i < count; i++) {
      if (((flags[i] as number) & FLAG.error) !== 0) continue;
      if (bus[i] !== number) {
        number = bus[i] as number;
        lane = counts[number] ??= new Uint32Array(cells);
      }
      const t = (time[i] as number) - first;
      if (t < from || t >= to) {
        cell = Math.min(cells - 1, Math.floor(t / this.cellS));
        // A little short of the cell at both ends, so that rounding never puts a frame beside its cell.
        from = (cell + 1e-6) * this.cellS;
        to = (cell + 1 - 1e-6) * this.cellS;
      }
      lane[cell] = (lane[cell] as number) + 1;
    }
    const numbers = counts.flatMap((lane, number) => (lane === undefined ? [] : [number]));
    this.buses = numbers;
    this.#levels = numbers.map((number) => levelsOf(counts[number] as Uint32Array));
    this.frames = this.#levels.map((levels) => (levels[0] as Level).sum.reduce((a, n) => a + n, 0));
  }

  /**
   * Cells that touch `[from, to]`, of the finest level that needs no more than `pixels` of them, or of the coarsest.
   * The last cell of the recording is as wide as the others, though frames end within it.
   */
  view(from: number, to: number, pixels: number): RateView {
    const cells = this.#levels[0]?.[0]?.cells ?? 0;
    const range = (width: number, of: number) => {
      const start = Math.max(0, Math.min(of, Math.floor((from - this.first) / width)));
      return [start, Math.max(start, Math.min(of, Math.floor((to - this.first) / width) + 1))] as const;
    };
    let level = 0;
    let cellS = this.cellS;
    let [a, b] = range(cellS, cells);
    const coarsest = (this.#levels[0]?.length ?? 1) - 1;
    while (b - a > pixels && level < coarsest) {
      level++;
      cellS *= FAN;
      [a, b] = range(cellS, this.#levels[0]?.[level]?.cells ?? 0);
    }
    const finest = FAN ** level;
    return {
      start: this.first + a * cellS,
      cellS,
      buses: this.buses.map((bus, i) => {
        const { sum, low, high } = (this.#levels[i] as Level[])[level] as Level;
        const mean = new Float32Array(b - a);
        // The last coarse cell holds fewer fine ones.
        for (let k = a; k < b; k++)
          mean[k - a] = (sum[k] as number) / this.cellS / Math.min(finest, cells - k * finest);
        return { bus, mean, low: rates(low, a, b, this.cellS), high: rates(high, a, b, this.cellS) };
      }),
    };
  }
}

function levelsOf(counts: Uint32Array): Level[] {
  const levels: Level[] = [{ cells: counts.length, sum: counts, low: counts, high: counts }];
  for (let below = levels[0] as Level; below.cells > 1; below = levels.at(-1) as Level) {
    const cells = Math.ceil(below.cells / FAN);
    const level: Level = {
      cells,
      sum: new Uint32Array(cells),
      low: new Uint32Array(cells).fill(0xffff_ffff),
      high: new Uint32Array(cells),
    };
    for (let i = 0; i < below.cells; i++) {
      const k = Math.floor(i / FAN);
      level.sum[k] = (level.sum[k] as number) + (below.sum[i] as number);
      level.low[k] = Math.min(level.low[k] as number, below.low[i] as number);
      level.high[k] = Math.max(level.high[k] as number, below.high[i] as number);
    }
    levels.push(level);
  }
  return levels;
}

function rates(counts: Uint32Array, from: number, to: number, cellS: number): Float32Array {
  const out = new Float32Array(to - from);
  for (let i = 0; i < out.length; i++) out[i] = (counts[from + i] as number) / cellS;
  return out;
}
