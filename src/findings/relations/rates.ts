/** Pairs of which the second is the rate of change of the first: an angle and its rate, a speed and an acceleration. */
import { counted } from '../words.ts';
import { agreementOf, around, type Course, dot, spectrum, unit, wraps } from './course.ts';
import { type Grid, keyOf, placeOf } from './grid.ts';
import type { Relation } from './model.ts';

const SCREEN = 0.5;
const CLOSE = 0.8;
const CHANCE = 0.01;
/** Seconds over which changes are taken: short for quick signals, long for coarse ones. */
const SPANS_S = [0.2, 0.6, 1.6];

/**
 * `heads`: one course of each quantity; `straight`: relations by a line, which outdo a rate; `family`: of signals that run
 * together only the closest is named.
 */
export function ratesOf(
  grid: Grid,
  heads: readonly Course[],
  straight: readonly Relation[],
  family: ReadonlyMap<string, string>,
): Relation[] {
  const numbers = heads.filter(({ signal }) => signal.kind === 'number' && signal.changes >= 20);
  const tied = new Set(straight.map(({ from, to }) => `${keyOf(from)}|${keyOf(to)}`));
  const related = (a: Course, b: Course) =>
    tied.has(`${keyOf(a.signal)}|${keyOf(b.signal)}`) || tied.has(`${keyOf(b.signal)}|${keyOf(a.signal)}`);
  const pairs = numbers.length * (numbers.length - 1);
  const found: Relation[] = [];
  for (const x of numbers) {
    for (const y of numbers) {
      // What only rises may have a rate, but a rate that drifts is like any other drift.
      if (x === y || y.drifts || related(x, y) || Math.abs(dot(x.steps, y.slow)) < SCREEN) continue;
      const rate = verified(grid, x, y, pairs);
      if (rate) found.push(rate);
    }
  }
  return bestOfEach(found, family);
}

function verified(grid: Grid, x: Course, y: Course, pairs: number): Relation | null {
  let best: Relation | null = null;
  for (const spanS of SPANS_S) {
    const half = Math.max(1, Math.round(spanS / 2 / grid.cellS));
    const change = changeOf(grid, x, half);
    const level = smoothed(grid, y.signal.value, half);
    const plain = Float64Array.from(level);
    const raw = Float64Array.from(change);
    if (!unit(change) || !unit(level)) continue;
    const most = Math.max(1, Math.round(0.5 / grid.cellS));
    const { r, shift, chance, effective } = agreementOf(spectrum(change), spectrum(level), grid.cells, most);
    if (Math.abs(r) < CLOSE || chance * pairs > CHANCE) continue;
    if (best && Math.abs(best.r) >= Math.abs(r)) continue;
    const { factor, offset } = leastSquares(raw, plain, shift);
    const delayS = shift * grid.cellS;
    const slack = Math.max(grid.cellS, x.signal.gapS, y.signal.gapS);
    best = {
      kind: 'rate',
      from: placeOf(x.signal),
      to: placeOf(y.signal),
      with: null,
      factor,
      offset,
      withFactor: 0,
      delayS,
      delayLowS: delayS - slack,
      delayHighS: delayS + slack,
      r,
      probability: Math.min(0.97, (Math.abs(r) * effective) / (effective + 3)),
      evidence: [
        {
          text: `The change of the first over ${(2 * half * grid.cellS).toFixed(2)} s and the second correlate with r = ${r.toFixed(3)}, worth ${counted(effective)} independent values.`,
        },
      ],
    };
  }
  return best;
}

/** A signal is the rate of one thing, and a thing has one rate: weaker claims about the same are echoes of it. */
function bestOfEach(found: Relation[], family: ReadonlyMap<string, string>): Relation[] {
  const sorted = found.sort((a, b) => Math.abs(b.r) - Math.abs(a.r));
  const best = new Map<string, number>();
  const known = new Set<string>();
  return sorted.filter((one) => {
    const size = Math.abs(one.r);
    const pair = `${family.get(keyOf(one.from))} ${family.get(keyOf(one.to))}`;
    if (known.has(pair)) return false;
    known.add(pair);
    const keys = [`of ${family.get(keyOf(one.from))}`, `is ${family.get(keyOf(one.to))}`];
    if (keys.some((key) => 1 - size > 1.5 * (1 - (best.get(key) ?? size)) + 0.01)) return false;
    for (const key of keys) best.set(key, Math.max(size, best.get(key) ?? 0));
    return true;
  });
}

/** Change per second over ±`half` cells. */
function changeOf(grid: Grid, { signal }: Course, half: number): Float64Array {
  const { value } = signal;
  const turn = wraps(signal) ? 2 ** signal.length : 0;
  const out = new Float64Array(value.length);
  for (const { from, to } of grid.stretches) {
    for (let c = from; c < to; c++) {
      const low = Math.max(from, c - half);
      const high = Math.min(to - 1, c + half);
      if (high > low)
        out[c] = around((value[high] as number) - (value[low] as number), turn) / ((high - low) * grid.cellS);
    }
  }
  return out;
}

function smoothed(grid: Grid, value: Float64Array, half: number): Float64Array {
  const out = new Float64Array(value.length);
  for (const { from, to } of grid.stretches) {
    let sum = 0;
    let low = from;
    let high = from;
    for (let c = from; c < to; c++) {
      while (high < Math.min(to, c + half + 1)) sum += value[high++] as number;
      while (low < c - half) sum -= value[low++] as number;
      out[c] = sum / (high - low);
    }
  }
  return out;
}

function leastSquares(x: Float64Array, y: Float64Array, shift: number): { factor: number; offset: number } {
  let n = 0;
  let sx = 0;
  let sy = 0;
  let sxx = 0;
  let sxy = 0;
  for (let c = Math.max(0, -shift); c < Math.min(x.length, x.length - shift); c++) {
    const a = x[c] as number;
    const b = y[c + shift] as number;
    n++;
    sx += a;
    sy += b;
    sxx += a * a;
    sxy += a * b;
  }
  const factor = (n * sxy - sx * sy) / (n * sxx - sx * sx);
  return { factor, offset: (sy - factor * sx) / n };
}
