/** How full each bus is over a capture, one lane per bus, as a share of its bit rate where that is known. */
import { areaY, axisX, axisY, gridY, line, plot, text } from '@observablehq/plot';
import { asFigure, DEFAULT_WIDTH, type FigureOptions, figure, TONE, tenth } from './svg.ts';

export interface BusLoadData {
  /** Width of an interval in seconds; interval i begins at start + i × binSeconds. */
  binSeconds: number;
  start: number;
  buses: { name: string; bitRateBps: number | null; bitsPerSecond: ArrayLike<number> }[];
}

const LANE = 92;

/** Shares only where every bus has a known bit rate; otherwise all lanes are in kbit/s and say so. */
export function busLoad(data: BusLoadData, options: FigureOptions): SVGSVGElement {
  const { document, width = DEFAULT_WIDTH } = options;
  const lanes = lanesOf(data);
  const unit = unitOf(data);
  const top = Math.max(unit === '%' ? 10 : 1, ...lanes.map((lane) => lane.peak)) * 1.1;
  const drawn = plot({
    document,
    width,
    height: 40 + LANE * Math.max(1, lanes.length),
    marginLeft: 96,
    marginRight: 104,
    marginTop: 6,
    marginBottom: 34,
    x: { label: null },
    y: { domain: [0, top], label: null },
    fy: { domain: lanes.map(({ name }) => name), axis: null, label: null, padding: 0.16 },
    marks: [
      gridY({ ticks: 3, stroke: TONE.rule, strokeOpacity: 1, strokeWidth: 0.5 }),
      areaY(
        lanes.flatMap((lane) => lane.points),
        { x: 't', y: 'load', fy: 'name', fill: TONE.faint, curve: 'step-after' },
      ),
      line(
        lanes.flatMap((lane) => lane.points),
        { x: 't', y: 'load', fy: 'name', z: 'name', stroke: TONE.ink, strokeWidth: 1.2, curve: 'step-after' },
      ),
      axisY({ ticks: 3, label: null, tickFormat: (v: number) => `${figure(v)}${unit === '%' ? ' %' : ''}` }),
      text(lanes, {
        fy: 'name',
        frameAnchor: 'left',
        dx: -94,
        textAnchor: 'start',
        text: 'name',
        fontWeight: 600,
        fill: TONE.ink,
      }),
      text(lanes, {
        fy: 'name',
        frameAnchor: 'right',
        dx: 10,
        textAnchor: 'start',
        lineHeight: 1.3,
        text: (lane: Lane) => `mean ${figure(lane.mean)} ${unit}\npeak ${figure(lane.peak)} ${unit}`,
        fill: TONE.soft,
      }),
      axisX({
        anchor: 'bottom',
        label: 'seconds',
        labelOffset: 32,
        labelAnchor: 'right',
        labelArrow: 'none',
      }),
    ],
  });
  return asFigure(drawn, nameOf(lanes, unit), 'bus-load');
}

interface Lane {
  name: string;
  mean: number;
  peak: number;
  points: { name: string; t: number; load: number }[];
}

function unitOf({ buses }: BusLoadData): '%' | 'kbit/s' {
  return buses.every(({ bitRateBps }) => bitRateBps !== null) ? '%' : 'kbit/s';
}

function lanesOf(data: BusLoadData): Lane[] {
  const { binSeconds, start, buses } = data;
  const unit = unitOf(data);
  return buses.map(({ name, bitRateBps, bitsPerSecond }) => {
    const per = unit === '%' ? Number(bitRateBps) / 100 : 1000;
    const loads = Array.from(bitsPerSecond, (bits) => tenth(bits / per));
    const points = loads.map((load, i) => ({ name, t: start + i * binSeconds, load }));
    const last = points.at(-1);
    if (last) points.push({ ...last, t: last.t + binSeconds });
    const total = Array.from(bitsPerSecond).reduce((a, b) => a + b, 0);
    return {
      name,
      mean: tenth(total / Math.max(1, bitsPerSecond.length) / per),
      peak: loads.reduce((a, b) => Math.max(a, b), 0),
      points,
    };
  });
}

function nameOf(lanes: Lane[], unit: string): string {
  const words = lanes.map(
    ({ name, mean, peak }) => `${name} mean ${figure(mean)} ${unit}, peak ${figure(peak)} ${unit}`,
  );
  return `Bus load over time: ${words.join('; ')}`;
}
