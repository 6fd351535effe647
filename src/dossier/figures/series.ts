/** One field over time: the least and greatest value of each short interval, with the cues of the capture behind. */
import { areaY, axisX, axisY, gridY, line, plot, rectX, text } from '@observablehq/plot';
import { asFigure, DEFAULT_WIDTH, el, type FigureOptions, figure, TONE, tenth } from './svg.ts';

export interface SeriesData {
  name: string;
  unit: string;
  /** Seconds, rising; with the least and greatest value around that time. Equal lengths. */
  time: ArrayLike<number>;
  low: ArrayLike<number>;
  high: ArrayLike<number>;
  cues?: { name: string; startS: number; endS: number }[];
}

export function series(data: SeriesData, options: FigureOptions): SVGSVGElement {
  const { document, width = DEFAULT_WIDTH } = options;
  const { cues = [] } = data;
  const rows = rowsOf(data);
  const drawn = plot({
    document,
    width,
    height: 190 + (cues.length > 0 ? 14 : 0),
    marginLeft: 54,
    marginRight: 14,
    marginTop: cues.length > 0 ? 34 : 22,
    marginBottom: 36,
    x: { label: null },
    y: { label: null, nice: true },
    marks: [
      rectX(cues, { x1: 'startS', x2: 'endS', fill: TONE.faint }),
      text(cues, {
        x: 'startS',
        frameAnchor: 'top',
        dy: -10,
        textAnchor: 'start',
        text: 'name',
        fill: TONE.soft,
      }),
      gridY({ ticks: 5, stroke: TONE.rule, strokeOpacity: 1, strokeWidth: 0.5 }),
      areaY(rows, { x: 't', y1: 'low', y2: 'high', fill: TONE.ink, fillOpacity: 0.35 }),
      line(rows, { x: 't', y: 'middle', stroke: TONE.ink, strokeWidth: 1 }),
      axisX({ label: 'seconds', labelOffset: 32, labelAnchor: 'right', labelArrow: 'none' }),
      axisY({ ticks: 5, label: null, tickFormat: (v: number) => figure(v) }),
    ],
  });
  const svg = asFigure(drawn, nameOf(data), 'series');
  svg.append(
    el(
      document,
      'text',
      { x: 0, y: 10, 'text-anchor': 'start' },
      data.unit ? `${data.name}, ${data.unit}` : data.name,
    ),
  );
  return svg;
}

interface Row {
  t: number;
  low: number;
  high: number;
  middle: number;
}

/** Rows of the plot; where the message was silent for long, an empty row breaks the line instead of bridging the gap. */
function rowsOf({ time, low, high }: SeriesData): Row[] {
  const gaps = Array.from(
    { length: Math.max(0, time.length - 1) },
    (_, i) => Number(time[i + 1]) - Number(time[i]),
  );
  const usual = gaps.length > 0 ? [...gaps].sort((a, b) => a - b)[gaps.length >> 1] : 0;
  const rows: Row[] = [];
  for (let i = 0; i < time.length; i++) {
    const t = Number(time[i]);
    const [lo, hi] = [Number(low[i]), Number(high[i])];
    const gap = gaps[i - 1] ?? 0;
    if (gap > 5 * Number(usual))
      rows.push({ t: t - gap / 2, low: Number.NaN, high: Number.NaN, middle: Number.NaN });
    rows.push({ t, low: lo, high: hi, middle: (lo + hi) / 2 });
  }
  return rows;
}

function nameOf({ name, unit, time, low, high }: SeriesData): string {
  if (time.length === 0) return `${name} over time: no value`;
  const least = figure(Math.min(...Array.from(low)));
  const greatest = figure(Math.max(...Array.from(high)));
  const span = figure(tenth(Number(time[time.length - 1]) - Number(time[0])));
  return `${name} over ${span} seconds: from ${least} to ${greatest}${unit ? ` ${unit}` : ''}`;
}
