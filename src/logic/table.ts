/** Piecewise linear tables: their slopes and their value at a point, exactly as every reader computes them. */
import { INT_MAX, LogicError } from './error.ts';
import type { Table } from './form.ts';

/**
 * Checks the points and computes the slopes; the arithmetic of every segment stays within 32 bits.
 * Throws `LogicError` naming the table and the point.
 */
export function makeTable(name: string, points: readonly (readonly [number, number])[]): Table {
  if (points.length < 2 || points.length > 16)
    throw new LogicError(`table ${name}: 2 to 16 points are possible, found ${points.length}`);
  const x = points.map((p) => p[0]);
  const y = points.map((p) => p[1]);
  const m: number[] = [];
  for (let i = 0; i < points.length; i++) {
    const [px, py] = points[i] as readonly [number, number];
    if (![px, py].every((v) => Number.isInteger(v) && v >= 0 && v <= INT_MAX)) {
      throw new LogicError(
        `table ${name}, point ${i + 1}: (${px}, ${py}) must be integers from 0 to ${INT_MAX}`,
      );
    }
    if (i === 0) continue;
    const dx = px - (x[i - 1] as number);
    const dy = py - (y[i - 1] as number);
    if (dx <= 0)
      throw new LogicError(`table ${name}, point ${i + 1}: x = ${px} must be greater than ${x[i - 1]}`);
    const slope = dy >= 0 ? Math.floor((dy * 256) / dx) : Math.ceil((-dy * 256) / dx);
    if (dx * slope + 255 > INT_MAX)
      throw new LogicError(
        `table ${name}, point ${i + 1}: the segment before it is too long or too steep for 32-bit arithmetic; use coarser units`,
      );
    m.push(slope);
  }
  return { name, x, y, m };
}

/** Value of a table at a ≥ 0; the rounding is that of `Table` in form.ts. */
export function tableValue(t: Table, a: number): number {
  const last = t.x.length - 1;
  if (a <= (t.x[0] as number)) return t.y[0] as number;
  if (a >= (t.x[last] as number)) return t.y[last] as number;
  let i = 0;
  while (a >= (t.x[i + 1] as number)) i++;
  const d = a - (t.x[i] as number);
  const [y0, y1, m] = [t.y[i] as number, t.y[i + 1] as number, t.m[i] as number];
  return y1 >= y0 ? y0 + Math.floor((d * m) / 256) : Math.max(y1, y0 - Math.ceil((d * m) / 256));
}
