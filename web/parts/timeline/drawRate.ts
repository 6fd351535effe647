/** The traffic of the buses: rates in steps with their spread, or every single frame as a stroke. */
import { FLAG, formatId } from '../../../src/can/frame.ts';
import type { Overview } from './data.ts';
import { label, type Paper, rule } from './paper.ts';
import type { Span } from './span.ts';

export interface Box {
  top: number;
  height: number;
}

/** Rates of one bus: the spread of the finest cells pale, their mean as a line; nothing where no frame is. */
export function drawRate(
  paper: Paper,
  { head, columns }: Overview,
  bus: number,
  view: Span,
  most: number,
  box: Box,
): void {
  const { context, width, tones } = paper;
  const [mean, low, high] = ['mean', 'low', 'high'].map((name) => columns[`${name} ${bus}`]);
  if (!mean || !low || !high) return;
  const scale = width / (view.to - view.from);
  const x = (i: number) => (head.start + i * head.cellS - view.from) * scale;
  const y = (rate: number) => box.top + box.height * (1 - Math.min(1, rate / most));
  const from = Math.max(0, Math.floor((view.from - head.start) / head.cellS));
  const to = Math.min(mean.length, Math.ceil((view.to - head.start) / head.cellS));
  context.fillStyle = tones.rule;
  for (let i = from; i < to; i++) {
    const top = y(high[i] as number);
    context.fillRect(x(i), top, Math.max(1, x(i + 1) - x(i)), Math.max(0, y(low[i] as number) - top));
  }
  context.strokeStyle = tones.ink;
  context.beginPath();
  let drawn = false;
  for (let i = from; i < to; i++) {
    const rate = mean[i] as number;
    if (rate === 0) drawn = false;
    else {
      if (drawn) context.lineTo(x(i), y(rate));
      else context.moveTo(x(i), y(rate));
      context.lineTo(x(i + 1), y(rate));
      drawn = true;
    }
  }
  context.stroke();
}

/** Greatest rate of a bus in the whole recording, frames per second. */
export function mostOf({ columns }: Overview, bus: number): number {
  let most = 1;
  for (const rate of columns[`high ${bus}`] ?? []) if (rate > most) most = rate;
  return most;
}

/** Places in the columns of the frames that are seen; null where single frames are not there or too many. */
export function framesSeen(
  { head, columns }: Overview,
  view: Span,
  most: number,
): { from: number; to: number } | null {
  const time = columns['time'];
  if (!head.hasFrames || !time) return null;
  const from = firstAt(time, view.from);
  const to = firstAt(time, view.to, 'after');
  return to - from > most ? null : { from, to };
}

/** Every frame of one bus as a stroke; an error message is crossed, a request for data stands half high. */
export function drawFrames(
  paper: Paper,
  overview: Overview,
  seen: { from: number; to: number },
  bus: number,
  view: Span,
  box: Box,
): void {
  const { context, width, tones } = paper;
  const { time, bus: buses, id, flags } = overview.columns;
  if (!time || !buses || !id || !flags) return;
  const scale = width / (view.to - view.from);
  const foot = box.top + box.height;
  let free = Number.NEGATIVE_INFINITY;
  for (let i = seen.from; i < seen.to; i++) {
    if (buses[i] !== bus) continue;
    const x = ((time[i] as number) - view.from) * scale;
    const flag = flags[i] as number;
    const isError = (flag & FLAG.error) !== 0;
    const top = (flag & FLAG.remote) !== 0 ? box.top + box.height / 2 : box.top;
    context.strokeStyle = isError ? tones.accent : tones.ink;
    rule(paper, x, top, x, foot);
    if (isError) {
      rule(paper, x - 3, top, x + 3, top + 6);
      rule(paper, x - 3, top + 6, x + 3, top);
    }
    if (x < free) continue;
    const next = nextOf(buses, bus, i + 1, seen.to);
    const room = next < 0 ? width - x : ((time[next] as number) - view.from) * scale - x;
    const text = isError ? 'error' : formatId(id[i] as number, (flag & FLAG.extended) !== 0);
    const wide = context.measureText(text).width;
    if (room < wide + 8) continue;
    label(paper, text, x + 3, top + 9, isError ? tones.accent : tones.soft);
    free = x + wide + 6;
  }
}

function nextOf(buses: ArrayLike<number>, bus: number, from: number, to: number): number {
  for (let i = from; i < to; i++) if (buses[i] === bus) return i;
  return -1;
}

/** First place whose time is at least `wanted`, or beyond it. */
export function firstAt(time: ArrayLike<number>, wanted: number, side: 'at' | 'after' = 'at'): number {
  let low = 0;
  let high = time.length;
  while (low < high) {
    const middle = (low + high) >>> 1;
    const t = time[middle] as number;
    if (t < wanted || (side === 'after' && t === wanted)) low = middle + 1;
    else high = middle;
  }
  return low;
}
