/**
 * How closely a series follows a pattern of windows, and how closely it would follow shuffled ones. Windows within a
 * recording are shifted around it as a whole, so that the autocorrelation of the series stays what it is; cues that fill
 * recordings are dealt out among these. The true pattern counts as one of the draws, which makes the p-values exact.
 */
import { dice } from '../relations/dice.ts';

export interface CellWindow {
  from: number;
  to: number;
  level: number;
}

export interface Part {
  recording: number;
  cells: number;
  windows: CellWindow[];
  /** The surroundings of the windows, themselves included, as stretches that do not touch. */
  near: { from: number; to: number }[];
}

export interface Design {
  /** Recordings that the cue fills in part, with its windows in cells. */
  parts: Part[];
  /** Recordings that it fills altogether, or that compare with those: level of each. */
  wholes: { recording: number; level: number }[];
  /** Recordings without it that only say how much a series moves anyway. */
  idle: number[];
  /** Shifts of each part, draw by draw, the first draw all 0; order of the wholes in each draw. */
  shifts: Int32Array[];
  orders: Uint16Array[];
  lags: Int32Array;
  /** √ of the sum of squares of the pattern. */
  norm: number;
  /** The same within the surroundings of the windows alone; 0 where these are hardly less than everything. */
  nearNorm: number;
  /** Cells that one whole recording counts for. */
  weight: number;
}

/** Weight of what a series does within recordings that a cue fills, beside how these differ. */
const RESTLESS = 0.05;
/** Share of a recording that a cue may leave out and still fill it. */
const FILLS = 0.97;

export interface DesignFigures {
  draws: number;
  seed: number;
  /** Lags to try, in cells, rising. */
  lags: Int32Array;
  /** Cells on either side of a window that are its surroundings, at the least. */
  near: number;
}

/** Surroundings that cover more than this share of a recording are no other comparison than the whole of it. */
const MOSTLY = 0.7;
/** What a close agreement in the surroundings alone is worth: sheets that leave things out must not outdo those that do not. */
const NEAR_WORTH = 0.9;

/** `windows` in cells of each recording, `cells` their lengths. null where the pattern tells nothing apart. */
export function designOf(
  windows: readonly CellWindow[][],
  cells: readonly number[],
  { draws, seed, lags, near }: DesignFigures,
): Design | null {
  const parts: Design['parts'] = [];
  const full: Design['wholes'] = [];
  const none: number[] = [];
  windows.forEach((list, recording) => {
    const length = cells[recording] as number;
    const inside = list.map((w) => ({ ...w, from: clamp(w.from, length), to: clamp(w.to, length) }));
    const covered = inside.reduce((sum, w) => sum + w.to - w.from, 0);
    if (covered === 0) none.push(recording);
    else if (inside.length === 1 && covered >= FILLS * length)
      full.push({ recording, level: (inside[0] as CellWindow).level });
    else {
      const kept = inside.filter((w) => w.to > w.from);
      parts.push({ recording, cells: length, windows: kept, near: surroundings(kept, length, near) });
    }
  });
  const wholes = full.length > 0 ? [...full, ...none.map((recording) => ({ recording, level: 0 }))] : [];
  if (new Set(wholes.map((w) => w.level)).size < 2) wholes.length = 0;
  if (parts.length === 0 && wholes.length === 0) return null;
  const weight = cells.reduce((sum, n) => sum + n, 0) / Math.max(1, cells.length);
  const design: Design = {
    parts,
    wholes,
    idle: full.length > 0 ? [] : none,
    shifts: [],
    orders: [],
    lags,
    norm: 0,
    nearNorm: 0,
    weight,
  };
  design.norm = Math.sqrt(squares(design));
  const nearCells = parts.reduce((sum, p) => sum + lengthOf(p.near), 0);
  if (wholes.length === 0 && nearCells < MOSTLY * parts.reduce((sum, p) => sum + p.cells, 0))
    design.nearNorm = Math.sqrt(nearSquares(parts));
  if (!(design.norm > 0)) return null;
  const roll = dice(seed);
  for (let d = 0; d <= draws; d++) {
    design.shifts.push(Int32Array.from(parts, (p) => (d === 0 ? 0 : Math.floor(roll() * p.cells))));
    const order = Uint16Array.from(wholes, (_, k) => k);
    if (d > 0) {
      for (let k = order.length - 1; k > 0; k--) {
        const other = Math.floor(roll() * (k + 1));
        [order[k], order[other]] = [order[other] as number, order[k] as number];
      }
    }
    design.orders.push(order);
  }
  return design;
}

/** A series with its running sums, ready for any number of patterns of one design. */
export interface Prepared {
  /** Running sums of the centred series of each part, one longer than the part. */
  sums: Float64Array[];
  /** Running sums of its squares. */
  squares: Float64Array[];
  /** Centred mean of each whole recording. */
  means: Float64Array;
  norm: number;
}

/** `series` by recording; null where the recording does not hold it. */
export function prepare(design: Design, series: readonly (Float64Array | null)[]): Prepared | null {
  let total = 0;
  const squares: Float64Array[] = [];
  const sums = design.parts.map(({ recording, cells }) => {
    const x = series[recording];
    const running = new Float64Array(cells + 1);
    const square = new Float64Array(cells + 1);
    squares.push(square);
    if (!x) return running;
    const m = meanOf(x);
    for (let c = 0; c < cells; c++) {
      const v = (x[c] as number) - m;
      total += v * v;
      running[c + 1] = (running[c] as number) + v;
      square[c + 1] = (square[c] as number) + v * v;
    }
    return running;
  });
  for (const recording of design.idle) {
    const x = series[recording];
    if (!x) continue;
    const m = meanOf(x);
    for (const v of x) total += (v - m) * (v - m);
  }
  const plain = design.wholes.map(({ recording }) => {
    const x = series[recording];
    return x ? meanOf(x) : null;
  });
  const known = plain.filter((m) => m !== null);
  const middle = known.reduce((sum, m) => sum + m, 0) / Math.max(1, known.length);
  const means = Float64Array.from(plain, (m) => (m === null ? 0 : m - middle));
  for (const m of means) total += design.weight * m * m;
  // A mean of something that jumps about anyway tells less than one that the whole recording keeps to.
  for (const { recording } of design.wholes) {
    const x = series[recording];
    if (x) total += design.weight * RESTLESS * varianceOf(x);
  }
  return total > 1e-12 ? { sums, squares, means, norm: Math.sqrt(total) } : null;
}

/** The correlation of largest size over all lags for draw `d`, with its sign, and where in `lags` it stands. */
export function agreementAt(design: Design, prepared: Prepared, d: number): { r: number; lag: number } {
  const order = design.orders[d] as Uint16Array;
  let between = 0;
  let levelMean = 0;
  for (const { level } of design.wholes) levelMean += level / design.wholes.length;
  for (let k = 0; k < order.length; k++) {
    const level = (design.wholes[order[k] as number] as { level: number }).level - levelMean;
    between += design.weight * level * (prepared.means[k] as number);
  }
  const scale = 1 / (prepared.norm * design.norm);
  if (design.parts.length === 0) return { r: between * scale, lag: design.lags.indexOf(0) };
  const shifts = design.shifts[d] as Int32Array;
  const beside = design.nearNorm > 0 ? besideAt(design, prepared, shifts) : null;
  let best = 0;
  let at = 0;
  for (let l = 0; l < design.lags.length; l++) {
    let sum = between;
    for (let p = 0; p < design.parts.length; p++) {
      const part = design.parts[p] as Part;
      const running = prepared.sums[p] as Float64Array;
      const shift = (shifts[p] as number) + (design.lags[l] as number);
      for (const { from, to, level } of part.windows)
        sum += level * around(running, part.cells, from + shift, to - from);
    }
    let r = sum * scale;
    if (beside !== null) {
      const near = (sum - beside.mean) * beside.scale;
      if (Math.abs(near) > Math.abs(r)) r = near;
    }
    if (Math.abs(r) > Math.abs(best)) {
      best = r;
      at = l;
    }
  }
  return { r: best, lag: at };
}

/**
 * What turns the sum over windows into the correlation within their surroundings: a cue sheet may leave out what was done
 * later in the drive, and a signal that follows closely wherever the sheet looks is then still found.
 */
function besideAt(
  design: Design,
  prepared: Prepared,
  shifts: Int32Array,
): { mean: number; scale: number } | null {
  let mean = 0;
  let squaresInside = 0;
  for (let p = 0; p < design.parts.length; p++) {
    const { cells, near, windows } = design.parts[p] as Part;
    const shift = shifts[p] as number;
    let x = 0;
    let xx = 0;
    for (const { from, to } of near) {
      x += around(prepared.sums[p] as Float64Array, cells, from + shift, to - from);
      xx += around(prepared.squares[p] as Float64Array, cells, from + shift, to - from);
    }
    const n = lengthOf(near);
    let level = 0;
    for (const w of windows) level += w.level * (w.to - w.from);
    mean += (level / n) * x;
    squaresInside += xx - (x * x) / n;
  }
  if (squaresInside < 1e-9 * prepared.norm * prepared.norm) return null;
  return { mean, scale: NEAR_WORTH / (Math.sqrt(squaresInside) * design.nearNorm) };
}

/** Sum over `length` cells from `from`, around the end. */
function around(running: Float64Array, cells: number, from: number, length: number): number {
  const start = ((from % cells) + cells) % cells;
  const end = start + length;
  if (end <= cells) return (running[end] as number) - (running[start] as number);
  return (running[cells] as number) - (running[start] as number) + (running[end - cells] as number);
}

/** Sum of squares of the pattern about its mean, within parts and between wholes. */
function squares(design: Design): number {
  let total = 0;
  for (const { cells, windows } of design.parts) {
    const y = new Float64Array(cells);
    for (const { from, to, level } of windows)
      for (let c = from; c < to; c++) y[c] = (y[c] as number) + level;
    const m = meanOf(y);
    for (const v of y) total += (v - m) * (v - m);
  }
  const levels = design.wholes.map((w) => w.level);
  const m = levels.reduce((sum, l) => sum + l, 0) / Math.max(1, levels.length);
  for (const level of levels) total += design.weight * (level - m) ** 2;
  return total;
}

function nearSquares(parts: readonly Part[]): number {
  let total = 0;
  for (const { windows, near } of parts) {
    let sum = 0;
    let sumSquares = 0;
    for (const { from, to, level } of windows) {
      sum += level * (to - from);
      sumSquares += level * level * (to - from);
    }
    total += sumSquares - (sum * sum) / lengthOf(near);
  }
  return total;
}

function surroundings(windows: readonly CellWindow[], cells: number, least: number): Part['near'] {
  const wide = windows
    .map(({ from, to }) => {
      const pad = Math.max(least, 2 * (to - from));
      return { from: Math.max(0, from - pad), to: Math.min(cells, to + pad) };
    })
    .sort((a, b) => a.from - b.from);
  const merged: Part['near'] = [];
  for (const one of wide) {
    const last = merged.at(-1);
    if (last && one.from <= last.to) last.to = Math.max(last.to, one.to);
    else merged.push({ ...one });
  }
  return merged;
}

function lengthOf(stretches: readonly { from: number; to: number }[]): number {
  return stretches.reduce((sum, s) => sum + s.to - s.from, 0);
}

function varianceOf(x: Float64Array): number {
  const m = meanOf(x);
  let sum = 0;
  for (const v of x) sum += (v - m) * (v - m);
  return sum / Math.max(1, x.length);
}

function meanOf(x: Float64Array): number {
  let sum = 0;
  for (const v of x) sum += v;
  return sum / Math.max(1, x.length);
}

function clamp(cell: number, length: number): number {
  return Math.min(length, Math.max(0, cell));
}
