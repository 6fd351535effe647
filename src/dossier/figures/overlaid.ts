/** A measured series laid over a signal that was brought to its scale, over one time axis. */
import { axisX, axisY, gridY, line, plot } from '@observablehq/plot';
import { asFigure, DEFAULT_WIDTH, el, type FigureOptions, figure, lineKey, TONE } from './svg.ts';

/** Seconds, rising, with one value each; null breaks the line. */
export interface OverlaidCurve {
  name: string;
  time: ArrayLike<number>;
  value: ArrayLike<number | null>;
}

export interface OverlaidData {
  unit: string;
  reference: OverlaidCurve;
  signal: OverlaidCurve;
}

export function overlaid(data: OverlaidData, options: FigureOptions): SVGSVGElement {
  const { document, width = DEFAULT_WIDTH } = options;
  const { reference, signal, unit } = data;
  const rows = ({ time, value }: OverlaidCurve) =>
    Array.from({ length: time.length }, (_, i) => ({ t: time[i], v: value[i] ?? Number.NaN }));
  const drawn = plot({
    document,
    width,
    height: 240,
    marginLeft: 54,
    marginRight: 14,
    marginTop: 40,
    marginBottom: 36,
    x: { label: null },
    y: { label: null, nice: true },
    marks: [
      gridY({ ticks: 5, stroke: TONE.rule, strokeOpacity: 1, strokeWidth: 0.5 }),
      // The broad band below, the thin line on it: where the two agree, both are seen.
      line(rows(reference), { x: 't', y: 'v', stroke: TONE.soft, strokeWidth: 4, strokeOpacity: 0.55 }),
      line(rows(signal), { x: 't', y: 'v', stroke: TONE.accent, strokeWidth: 1.25 }),
      axisX({ label: 'seconds of the capture', labelOffset: 32, labelAnchor: 'right', labelArrow: 'none' }),
      axisY({ ticks: 5, label: null, tickFormat: (v: number) => figure(v) }),
    ],
  });
  const svg = asFigure(drawn, nameOf(data), 'overlaid');
  svg.append(
    lineKey(
      document,
      [
        { text: reference.name, stroke: TONE.soft, width: 4 },
        { text: `${signal.name}, to the same scale`, stroke: TONE.accent, width: 1.25 },
      ],
      0,
      8,
    ),
    el(document, 'text', { x: 0, y: 30, 'text-anchor': 'start', fill: TONE.soft }, unit),
  );
  return svg;
}

function nameOf({ unit, reference, signal }: OverlaidData): string {
  const values = Array.from(reference.value).filter((v): v is number => v !== null);
  if (values.length === 0) return `${reference.name} over ${signal.name}: no value`;
  let [least, greatest] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
  for (const v of values) [least, greatest] = [Math.min(least, v), Math.max(greatest, v)];
  const last = Number(reference.time[reference.time.length - 1]);
  return `${reference.name} laid over ${signal.name}, from ${figure(Number(reference.time[0]))} to ${figure(last)} seconds of the capture: from ${figure(least)} to ${figure(greatest)}${unit ? ` ${unit}` : ''}`;
}
