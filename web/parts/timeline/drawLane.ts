/** One field over time: the band between its least and greatest value, or its single values as steps. */
import type { Lane, LaneData } from './data.ts';
import { type Box, firstAt } from './drawRate.ts';
import type { Paper } from './paper.ts';
import type { Span } from './span.ts';

/** Physical least and greatest value of the whole recording; null where no frame has the field. */
export function valuesOf({ head }: LaneData, { scale, offset }: Lane): { low: number; high: number } | null {
  if (head.range === null) return null;
  const ends = [head.range.low * scale + offset, head.range.high * scale + offset];
  return { low: Math.min(...ends), high: Math.max(...ends) };
}

/** What the lane shows: all values with a little air; the same at any zoom. */
export function rangeOf(data: LaneData, lane: Lane): { low: number; high: number } {
  const { low, high } = valuesOf(data, lane) ?? { low: 0, high: 1 };
  const air = low === high ? Math.abs(low) * 0.1 || 1 : (high - low) * 0.06;
  return { low: low - air, high: high + air };
}

export function drawLane(
  paper: Paper,
  data: LaneData,
  lane: Lane,
  view: Span,
  range: { low: number; high: number },
  box: Box,
): void {
  const { context, width, tones } = paper;
  const scale = width / (view.to - view.from);
  const perRaw = (box.height * lane.scale) / (range.high - range.low);
  const zero = box.top + box.height * (1 + (range.low - lane.offset) / (range.high - range.low));
  const y = (raw: number) => zero - raw * perRaw;
  const { head, columns } = data;
  if (head.kind === 'cells') {
    const [low, high] = [columns['low'], columns['high']];
    if (!low || !high) return;
    const from = Math.max(0, Math.floor((view.from - head.start) / head.cellS));
    const to = Math.min(low.length, Math.ceil((view.to - head.start) / head.cellS));
    const wide = Math.max(1, head.cellS * scale);
    context.fillStyle = tones.ink;
    // Where the cell before ended: a jump between two cells is drawn, a cell without a frame (not a number) is a gap.
    let [above, below] = [Number.NaN, Number.NaN];
    for (let i = from; i < to; i++) {
      const [a, b] = [y(low[i] as number), y(high[i] as number)];
      let [top, foot] = a < b ? [a, b] : [b, a];
      const [least, greatest] = [top, foot];
      if (below < top) top = below;
      if (above > foot) foot = above;
      [above, below] = [least, greatest];
      if (Number.isNaN(a)) continue;
      context.fillRect((head.start + i * head.cellS - view.from) * scale, top - 0.5, wide, foot - top + 1);
    }
    return;
  }
  const { time, value } = columns;
  if (!time || !value) return;
  const from = Math.max(0, firstAt(time, view.from) - 1);
  const to = Math.min(time.length, firstAt(time, view.to, 'after') + 1);
  const gap = gapOf(time, from, to);
  const x = (i: number) => ((time[i] as number) - view.from) * scale;
  context.strokeStyle = tones.ink;
  context.beginPath();
  for (let i = from; i < to; i++) {
    const follows = i > from && (time[i] as number) - (time[i - 1] as number) <= gap;
    if (follows) context.lineTo(x(i), y(value[i - 1] as number));
    if (follows) context.lineTo(x(i), y(value[i] as number));
    else context.moveTo(x(i), y(value[i] as number));
  }
  context.stroke();
  if (to - from > width / 6) return;
  context.fillStyle = tones.ink;
  for (let i = from; i < to; i++) context.fillRect(x(i) - 2, y(value[i] as number) - 2, 4, 4);
}

/** Value at or before a time, physical; null where the lane shows bands there, or nothing yet. */
export function valueAt(
  { head, columns }: LaneData,
  { scale, offset }: Lane,
  seconds: number,
): number | null {
  const { time, value } = columns;
  if (head.kind !== 'single' || !time || !value) return null;
  const i = firstAt(time, seconds, 'after') - 1;
  return i < 0 ? null : (value[i] as number) * scale + offset;
}

/** Longer than this between two frames and the line is broken: eight times what usually lies between them. */
function gapOf(time: ArrayLike<number>, from: number, to: number): number {
  const gaps = Float64Array.from(
    { length: Math.max(0, to - from - 1) },
    (_, k) => (time[from + k + 1] as number) - (time[from + k] as number),
  );
  gaps.sort();
  return gaps.length < 3 ? Number.POSITIVE_INFINITY : 8 * (gaps[gaps.length >> 1] as number);
}
