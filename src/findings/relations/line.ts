/** The straight line between two signals on the grid, and how far it is a plain copy. */

import { plausibleFactor } from '../scale/plausible.ts';
import { dice } from './dice.ts';
import type { GridSignal } from './grid.ts';
import { median } from './statistics.ts';

export interface Line {
  factor: number;
  offset: number;
  /** Whether the factor is one that two resolutions of a quantity can have between them. */
  plain: boolean;
  /** Share of cells in which the second is the first on this line, but for rounding and late frames. */
  exact: number;
  /** Median size of what is left, as a share of the second's usual departure from its median. */
  left: number;
}

/** Pairs of cells from which slopes are taken. */
const SLOPES = 1500;

/**
 * y = factor × x + offset by the median of slopes between cells (Theil 1950, Sen 1968), from at most some thousand
 * of them; `shift`: cells by which y comes later.
 */
export function lineOf(x: GridSignal, y: GridSignal, shift: number): Line {
  const cells = x.value.length;
  const from = Math.max(0, -shift);
  const to = Math.min(cells, cells - shift);
  const roll = dice(cells + 31 * x.start + y.start);
  const slopes: number[] = [];
  for (let tries = 0; tries < 20 * SLOPES && slopes.length < SLOPES; tries++) {
    const i = from + Math.floor(roll() * (to - from));
    const j = from + Math.floor(roll() * (to - from));
    const dx = (x.value[j] as number) - (x.value[i] as number);
    // Slopes over hardly any distance are all rounding.
    if (Math.abs(dx) < 1 || (tries < 4 * SLOPES && Math.abs(dx) < 8)) continue;
    slopes.push(((y.value[j + shift] as number) - (y.value[i + shift] as number)) / dx);
  }
  const slope = median(slopes);
  const slack = Math.min(5e-3, Math.max(1e-3, (0.3 * (1 + Math.abs(slope))) / Math.max(1, extentOf(y).span)));
  // One message does not tell a quantity in two units.
  const sameSender = x.bus === y.bus && x.id === y.id && x.extended === y.extended;
  const plausible = plausibleFactor(slope * (1 - slack), slope * (1 + slack), {
    unit: sameSender ? '' : 'any',
  });
  const factor = plausible?.factor ?? slope;
  const stride = Math.max(1, Math.floor((to - from) / 4000));
  const rest: number[] = [];
  for (let c = from; c < to; c += stride)
    rest.push((y.value[c + shift] as number) - factor * (x.value[c] as number));
  const offset = median(rest);
  const away: number[] = [];
  const departure: number[] = [];
  const { middle } = extentOf(y);
  const rounding = 0.51 * (1 + Math.abs(factor));
  let exact = 0;
  let looked = 0;
  for (let c = from + 1; c < to - 1; c += stride) {
    const k = c + shift;
    if (k < 1 || k > cells - 2) continue;
    const error = (y.value[k] as number) - factor * (x.value[c] as number) - offset;
    const near = [y.value[k - 1], y.value[k], y.value[k + 1]] as number[];
    const beside = [x.value[c - 1], x.value[c], x.value[c + 1]] as number[];
    const late =
      Math.max(...near) - Math.min(...near) + Math.abs(factor) * (Math.max(...beside) - Math.min(...beside));
    looked++;
    if (Math.abs(error) <= rounding + late) exact++;
    away.push(Math.max(0, Math.abs(error) - rounding));
    departure.push(Math.abs((y.value[k] as number) - middle));
  }
  const usual = Math.max(median(departure), 1e-9);
  const plain = plausible !== null;
  return {
    factor,
    offset: near(offset),
    plain,
    exact: exact / Math.max(1, looked),
    left: median(away) / usual,
  };
}

/** Of each signal, because it stands in many pairs. */
const extents = new WeakMap<GridSignal, { middle: number; span: number }>();

function extentOf(signal: GridSignal): { middle: number; span: number } {
  let known = extents.get(signal);
  if (!known) {
    known = { middle: median(signal.value), span: spanOf(signal.value) };
    extents.set(signal, known);
  }
  return known;
}

function spanOf(values: Float64Array): number {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (const v of values) {
    if (v < low) low = v;
    if (v > high) high = v;
  }
  return high - low;
}

/** The whole number that an offset all but is. */
function near(v: number): number {
  return Math.abs(v - Math.round(v)) < 0.01 ? Math.round(v) : v;
}
