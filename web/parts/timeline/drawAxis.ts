/** The two drawings of a time axis: the strip of the whole recording, and the stretch that is looked at. */
import { figure } from '../../words.ts';
import type { AxisCue, TimeAxis } from './axis.ts';
import { CUE_ROW, drawCues } from './drawCues.ts';
import { drawLane, rangeOf, valueAt, valuesOf } from './drawLane.ts';
import { drawFrames, drawRate, framesSeen, mostOf } from './drawRate.ts';
import { dimension, label, type Paper, rule } from './paper.ts';
import { lengthText, ticksOf, timeText, widthOf } from './span.ts';

const STRIP_ROW = 22;
const RATE_LANE = 60;
const FIELD_LANE = 84;
const FOOT = 40;

export function stripHeight(axis: TimeAxis): number {
  return 8 + STRIP_ROW * busesOf(axis).length + 32;
}

/** Cues stand above everything; at least one row is kept free for the next. */
export function bandHeight(rows: Map<AxisCue, number>): number {
  return CUE_ROW * (Math.max(0, ...rows.values()) + 1) + 4;
}

export function windowHeight(axis: TimeAxis, band: number): number {
  return band + RATE_LANE * busesOf(axis).length + FIELD_LANE * axis.lanes.size + FOOT;
}

/** The whole recording: the rate of each bus, cues as strokes, and the stretch of the drawing below as a measure. */
export function drawStrip(paper: Paper, axis: TimeAxis): void {
  const overview = axis.overview.whole;
  if (overview === null) return;
  const { context, width, tones } = paper;
  const { bounds, view } = axis;
  const x = (seconds: number) => ((seconds - bounds.from) * width) / widthOf(bounds);
  const foot = 4 + STRIP_ROW * overview.head.buses.length;
  context.fillStyle = tones.faint;
  context.fillRect(x(view.from), 0, Math.max(2, x(view.to) - x(view.from)), foot);
  for (const [i, { bus }] of overview.head.buses.entries()) {
    const box = { top: 4 + i * STRIP_ROW, height: STRIP_ROW - 4 };
    drawRate(paper, overview, bus, bounds, mostOf(overview, bus), box);
  }
  context.fillStyle = tones.accent;
  for (const cue of axis.cues)
    context.fillRect(x(cue.startS), foot - 3, Math.max(1, x(cue.endS) - x(cue.startS)), 3);
  context.strokeStyle = tones.ink;
  rule(paper, 0, foot, width, foot);
  drawTicks(paper, bounds.from, bounds.to, foot);
  if (axis.cursorS !== null) {
    context.strokeStyle = tones.accent;
    rule(paper, x(axis.cursorS), 0, x(axis.cursorS), foot);
  }
  dimension(paper, x(view.from), Math.min(width - 1, x(view.to)), foot + 25, lengthText(widthOf(view)));
}

/** The stretch that is looked at: cues, buses, fields, and the cursor with its time. */
export function drawWindow(paper: Paper, axis: TimeAxis, rows: Map<AxisCue, number>): void {
  const { context, width, tones } = paper;
  const { view, cursorS } = axis;
  const overview = axis.overview.best(view);
  const whole = axis.overview.whole;
  if (overview === null || whole === null) return;
  let top = bandHeight(rows);
  context.strokeStyle = tones.rule;
  for (const time of ticksOf(view, width / 90).times) {
    const x = ((time - view.from) * width) / widthOf(view);
    rule(paper, x, top, x, paper.height - FOOT);
  }
  const seen = framesSeen(overview, view, width);
  for (const { bus, name } of whole.head.buses) {
    const box = { top: top + 18, height: RATE_LANE - 20 };
    const most = mostOf(whole, bus);
    if (seen === null) drawRate(paper, overview, bus, view, most, box);
    else drawFrames(paper, overview, seen, bus, view, box);
    const what = seen === null ? `frames/s, up to ${figure(most)}` : 'single frames';
    label(paper, `${name ?? `bus ${bus}`}: ${what}`, 4, top + 13, tones.soft);
    top += RATE_LANE;
    line(paper, top);
  }
  for (const { lane, data } of axis.lanes.values()) {
    const best = data.best(view);
    if (best !== null && data.whole !== null) {
      const range = rangeOf(data.whole, lane);
      drawLane(paper, best, lane, view, range, { top: top + 16, height: FIELD_LANE - 20 });
      const real = valuesOf(data.whole, lane);
      if (real) label(paper, figure(real.high), width - 3, top + 13, tones.soft, 'right');
      if (real) label(paper, figure(real.low), width - 3, top + FIELD_LANE - 4, tones.soft, 'right');
    }
    const value = best === null || cursorS === null ? null : valueAt(best, lane, cursorS);
    const now = value === null ? '' : ` = ${figure(value)}${lane.unit ? ` ${lane.unit}` : ''}`;
    label(paper, `${lane.name}${now || (lane.unit ? `, ${lane.unit}` : '')}`, 4, top + 13, tones.ink);
    const wide = context.measureText(`${lane.name}${now || (lane.unit ? `, ${lane.unit}` : '')}`).width;
    label(paper, lane.of, 14 + wide, top + 13, tones.soft);
    if (best?.head.frames === 0) label(paper, 'no frame of this recording has it', 4, top + 40, tones.accent);
    top += FIELD_LANE;
    line(paper, top);
  }
  drawTicks(paper, view.from, view.to, top);
  drawCues(paper, axis, rows);
  if (cursorS === null || cursorS < view.from || cursorS > view.to) return;
  const x = ((cursorS - view.from) * width) / widthOf(view);
  context.strokeStyle = tones.accent;
  rule(paper, x, bandHeight(rows), x, top + 22);
  const text = `${timeText(cursorS, view)} s`;
  const half = context.measureText(text).width / 2 + 3;
  label(paper, text, Math.min(width - half, Math.max(half, x)), top + 34, tones.accent, 'center');
}

function busesOf(axis: TimeAxis) {
  return axis.overview.whole?.head.buses ?? [];
}

function line(paper: Paper, y: number): void {
  paper.context.strokeStyle = paper.tones.ink;
  rule(paper, 0, y, paper.width, y);
}

function drawTicks(paper: Paper, from: number, to: number, y: number): void {
  const { context, width, tones } = paper;
  const { times, decimals } = ticksOf({ from, to }, width / 90);
  for (const time of times) {
    const x = ((time - from) * width) / (to - from);
    context.strokeStyle = tones.ink;
    rule(paper, x, y, x, y + 4);
    const text = time.toFixed(decimals);
    const half = context.measureText(text).width / 2 + 1;
    context.fillStyle = tones.soft;
    context.fillText(text, Math.min(width - 2 * half, Math.max(0, x - half)), y + 15);
  }
}
