/** A counterexample as a time plot: one lane per value over the steps, the step that breaks the obligation marked. */
import { axisX, line, plot, ruleY, text } from '@observablehq/plot';
import { asFigure, DEFAULT_WIDTH, el, type FigureOptions, figure, TONE } from './svg.ts';

export interface TraceData {
  /** Name of the obligation that is broken. */
  obligation: string;
  stepMs: number;
  /** Step at which it is broken, counted from 0. */
  brokenAtStep: number;
  /** One value per step each, all of the same length. */
  series: { name: string; values: number[] }[];
}

export interface TraceOptions extends FigureOptions {
  /** Steps to show, first and last; default all. */
  from?: number;
  to?: number;
}

const LANE = 38;
const RIGHT = 66;

export function trace(data: TraceData, options: TraceOptions): SVGSVGElement {
  const { document, width = DEFAULT_WIDTH } = options;
  const { brokenAtStep, series } = data;
  const steps = Math.max(0, ...series.map(({ values }) => values.length));
  const from = Math.max(0, options.from ?? 0);
  const to = Math.min(steps - 1, options.to ?? steps - 1);
  const lanes = series.map((s) => laneOf(s, from, to));
  const left = 24 + Math.max(60, ...series.map(({ name }) => name.length * 6.2));
  const points = lanes.flatMap((lane) => lane.points);
  const drawn = plot({
    document,
    width,
    height: 40 + 34 + LANE * lanes.length,
    marginLeft: left,
    marginRight: RIGHT,
    marginTop: 34,
    marginBottom: 40,
    x: { domain: [from, to + 1], label: null },
    y: { domain: [0, 1], axis: null, label: null },
    fy: { domain: series.map(({ name }) => name), axis: null, label: null, padding: 0.3 },
    marks: [
      ruleY([0], { stroke: TONE.rule, strokeWidth: 0.5 }),
      line(points, {
        x: 'step',
        y: 'share',
        fy: 'name',
        z: 'name',
        curve: 'step-after',
        stroke: TONE.ink,
        strokeWidth: 1.5,
      }),
      text(lanes, { fy: 'name', frameAnchor: 'left', dx: -10, textAnchor: 'end', text: 'name' }),
      text(lanes, {
        fy: 'name',
        frameAnchor: 'top-right',
        dx: 6,
        dy: -1,
        textAnchor: 'start',
        text: 'high',
        fill: TONE.soft,
      }),
      text(
        lanes.filter((lane) => lane.low !== lane.high),
        {
          fy: 'name',
          frameAnchor: 'bottom-right',
          dx: 6,
          dy: 1,
          textAnchor: 'start',
          text: 'low',
          fill: TONE.soft,
        },
      ),
      axisX({
        anchor: 'bottom',
        label: `step of ${figure(data.stepMs)} ms`,
        labelAnchor: 'right',
        labelArrow: 'none',
        labelOffset: 34,
        ticks: Math.min(12, to - from + 1),
        tickFormat: (k: number) => (Number.isInteger(k) ? String(k) : ''),
      }),
    ],
  });
  const svg = asFigure(drawn, nameOf(data), 'trace');
  if (brokenAtStep >= from && brokenAtStep <= to) {
    const pitch = (width - left - RIGHT) / (to + 1 - from);
    const [band, words] = broken(
      document,
      brokenAtStep,
      left + (brokenAtStep - from) * pitch,
      pitch,
      width,
      LANE * lanes.length,
    );
    svg.prepend(band);
    svg.append(words);
  }
  return svg;
}

/**
 * The values that a reader needs to follow a counterexample: those that ever change between `from` and `to`,
 * and the rest that stand still.
 */
export function movingSeries<S extends { values: number[] }>(
  series: S[],
  from: number,
  to: number,
): { moving: S[]; still: S[] } {
  const moves = ({ values }: S) => values.slice(from, to + 1).some((v) => v !== values[from]);
  return { moving: series.filter(moves), still: series.filter((s) => !moves(s)) };
}

interface Lane {
  name: string;
  low: string;
  high: string;
  points: { name: string; step: number; share: number }[];
}

/** Scales one series to the height of its lane; a series that stands still lies in the middle, truth values run from 0 to 1. */
function laneOf({ name, values }: TraceData['series'][number], from: number, to: number): Lane {
  const shown = values.slice(from, to + 1);
  const truth = shown.every((v) => v === 0 || v === 1);
  const low = truth ? 0 : Math.min(...shown);
  const high = truth ? 1 : Math.max(...shown);
  const share = (value: number) => (high > low ? (value - low) / (high - low) : 0.5);
  const points = shown.map((value, i) => ({ name, step: from + i, share: share(value) }));
  const last = points.at(-1);
  if (last) points.push({ ...last, step: to + 1 });
  return { name, low: figure(low), high: figure(high), points };
}

function broken(
  document: Document,
  step: number,
  x: number,
  pitch: number,
  width: number,
  height: number,
): [SVGElement, SVGElement] {
  const anchor = x > width * 0.7 ? 'end' : x < width * 0.3 ? 'start' : 'middle';
  return [
    el(document, 'rect', {
      x,
      y: 20,
      width: pitch,
      height: height + 14,
      fill: TONE.faint,
      stroke: TONE.accent,
    }),
    el(
      document,
      'text',
      { x: x + pitch / 2, y: 13, 'text-anchor': anchor, fill: TONE.accent, 'font-weight': 600 },
      `broken at step ${step}`,
    ),
  ];
}

function nameOf({ obligation, stepMs, brokenAtStep, series }: TraceData): string {
  const at = series
    .map(({ name, values }) => `${name} ${figure(values[brokenAtStep] ?? Number.NaN)}`)
    .join(', ');
  return `Counterexample to ${obligation}: broken at step ${brokenAtStep} of ${figure(stepMs)} ms, where ${at}`;
}
