/** How often a message comes, as a mark on a scale of milliseconds in tens: a bar at its period, as wide as its jitter. */
import { drawing, el, type FigureOptions, figure, TONE } from './svg.ts';

export interface PeriodMarkData {
  name: string;
  /** null: not told. */
  periodMs: number | null;
  jitterMs: number | null;
}

const HEIGHT = 18;
/** Ends of the scale; what lies beyond stands at its end. */
const FROM_MS = 1;
const TO_MS = 10_000;
const DECADES = [1, 10, 100, 1000, 10_000];

export function periodMark(data: PeriodMarkData, options: FigureOptions): SVGSVGElement {
  const { document, width = 180 } = options;
  const { periodMs, jitterMs } = data;
  const svg = drawing(document, { width, height: HEIGHT }, nameOf(data), 'period');
  const base = HEIGHT - 3;
  svg.append(el(document, 'line', { x1: 2, x2: width - 2, y1: base, y2: base, stroke: TONE.rule }));
  for (const ms of DECADES) {
    const x = at(ms, width);
    svg.append(
      el(document, 'line', { x1: x, x2: x, y1: base - 4, y2: base, stroke: TONE.soft, 'stroke-width': 0.8 }),
    );
  }
  if (periodMs === null) return svg;
  const spread = jitterMs ?? 0;
  const left = at(periodMs - spread, width);
  const breadth = Math.max(2.5, at(periodMs + spread, width) - left);
  svg.append(
    el(document, 'rect', { x: left - 0.5, y: base - 12, width: breadth, height: 12, fill: TONE.ink }),
  );
  return svg;
}

/** The scale of the marks, for the head of their column. */
export function periodScale(options: FigureOptions): SVGSVGElement {
  const { document, width = 180 } = options;
  const svg = drawing(
    document,
    { width, height: 14 },
    'Scale from 1 ms to 10 s, tenfold from mark to mark',
    'period-scale',
  );
  DECADES.forEach((ms, i) => {
    const anchor = i === 0 ? 'start' : i === DECADES.length - 1 ? 'end' : 'middle';
    const words = ms < 1000 ? `${ms}${i === 0 ? ' ms' : ''}` : `${ms / 1000} s`;
    svg.append(
      el(
        document,
        'text',
        { x: at(ms, width), y: 10, 'text-anchor': anchor, 'font-size': 9.5, fill: TONE.soft },
        words,
      ),
    );
  });
  return svg;
}

function at(ms: number, width: number): number {
  const share = Math.log(Math.min(TO_MS, Math.max(FROM_MS, ms)) / FROM_MS) / Math.log(TO_MS / FROM_MS);
  return 2 + share * (width - 4);
}

function nameOf({ name, periodMs, jitterMs }: PeriodMarkData): string {
  if (periodMs === null) return `${name}: no period`;
  return `${name}: every ${figure(periodMs)} ms${jitterMs === null ? '' : `, jitter ${figure(jitterMs)} ms`}`;
}
