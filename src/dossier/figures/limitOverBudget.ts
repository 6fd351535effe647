/** A guard table over speed under the budget of the car: where the one leaves the other is marked and said. */
import { areaY, axisX, axisY, dot, gridX, gridY, line, plot, ruleX, text } from '@observablehq/plot';
import {
  asFigure,
  DEFAULT_WIDTH,
  type FigureOptions,
  figure,
  type KeyEntry,
  lineKey,
  TONE,
  tenth,
} from './svg.ts';

export interface LimitOverBudgetData {
  quantity: 'level' | 'slew';
  /** Unit of the values: "°", "bar/s". */
  unit: string;
  /** Speeds rising; budget and limit at that speed, in `unit`. */
  rows: { speedMps: number; budget: number; limit: number }[];
  /** Points of the guard's table as a person wrote them. */
  points: { speedMps: number; value: number }[];
}

type Row = LimitOverBudgetData['rows'][number];

export function limitOverBudget(data: LimitOverBudgetData, options: FigureOptions): SVGSVGElement {
  const { document, width = DEFAULT_WIDTH } = options;
  const { quantity, unit, rows, points } = data;
  const fastest = Math.max(1, ...rows.map((row) => row.speedMps));
  const top = 1.18 * Math.max(1e-9, ...points.map((p) => p.value), ...rows.map((row) => row.limit));
  const crossed = limitCrossings(rows);
  const budget = cutAt(
    rows.map(({ speedMps, budget }) => ({ speedMps, value: budget })),
    top,
  );
  const first = budget[0];
  const ends = [rows[0], rows.at(-1)].flatMap((row) => (row ? [{ speedMps: row.speedMps, value: top }] : []));
  // Above the drawing at every speed, the budget has no line to show, but everything drawn is under it.
  const above = budget.length === 0 && rows.every((row) => row.budget >= top);
  const under = above ? ends : first && first.value >= top ? [...ends.slice(0, 1), ...budget] : budget;
  const drawn = plot({
    document,
    width,
    height: 260,
    marginTop: 46,
    marginLeft: 50,
    marginBottom: 38,
    marginRight: 14,
    x: { domain: [0, fastest], label: null },
    y: { domain: [0, top], label: null },
    marks: [
      gridX(
        every(fastest * 3.6, 10).map((v) => v / 3.6),
        { stroke: TONE.rule, strokeOpacity: 1, strokeWidth: 0.5 },
      ),
      gridY({ ticks: 5, stroke: TONE.rule, strokeOpacity: 1, strokeWidth: 0.5 }),
      areaY(under, { x: 'speedMps', y: 'value', fill: TONE.faint }),
      line(budget, { x: 'speedMps', y: 'value', stroke: TONE.soft, strokeDasharray: '5 3' }),
      line(rows, { x: 'speedMps', y: 'limit', stroke: TONE.ink, strokeWidth: 2 }),
      line(overBudget(rows), { x: 'speedMps', y: 'limit', stroke: TONE.accent, strokeWidth: 4 }),
      dot(
        points.filter((p) => p.speedMps <= fastest),
        { x: 'speedMps', y: 'value', r: 3.5, fill: TONE.paper, stroke: TONE.ink, strokeWidth: 1.5 },
      ),
      ruleX(crossed, { stroke: TONE.accent, strokeWidth: 1.2 }),
      ...crossed.map((speed, i) => crossingText(rows, speed, i, fastest)),
      axisX(
        every(fastest * 3.6, 10).map((v) => v / 3.6),
        {
          tickFormat: (mps: number) => String(Math.round(mps * 3.6)),
          label: 'speed, km/h',
          labelOffset: 32,
          labelAnchor: 'right',
          labelArrow: 'none',
        },
      ),
      axisX(every(fastest, 5), {
        anchor: 'top',
        tickFormat: (mps: number) => String(mps),
        label: 'm/s',
        labelAnchor: 'right',
        labelArrow: 'none',
        fill: TONE.soft,
        stroke: TONE.soft,
      }),
      axisY({ ticks: 5, label: null, tickFormat: (v: number) => `${figure(v)} ${unit}` }),
    ],
  });
  const svg = asFigure(drawn, nameOf(data, crossed), `limit-${quantity}`);
  const entries: KeyEntry[] = [
    { text: `${quantity} of this build’s guard`, stroke: TONE.ink, width: 2, point: 'ring' },
    { text: 'budget: no more than this', stroke: TONE.soft, dash: '5 3' },
  ];
  if (overBudget(rows).length > 0) entries.push({ text: 'over the budget', stroke: TONE.accent, width: 4 });
  svg.append(lineKey(document, entries, 50, 9));
  return svg;
}

/**
 * Speeds in m/s at which the limit crosses the budget, in either direction, by straight lines between the rows
 * (as the guard's own table runs between its points).
 */
export function limitCrossings(rows: Row[]): number[] {
  const found: number[] = [];
  for (let i = 1; i < rows.length; i++) {
    const a = rows[i - 1] as Row;
    const b = rows[i] as Row;
    const [before, after] = [a.budget - a.limit, b.budget - b.limit];
    if (before >= 0 === after >= 0) continue;
    found.push(a.speedMps + ((b.speedMps - a.speedMps) * before) / (before - after));
  }
  return found;
}

function crossingText(rows: Row[], speed: number, place: number, fastest: number) {
  const side =
    speed > 0.6 * fastest ? { dx: -6, textAnchor: 'end' as const } : { dx: 6, textAnchor: 'start' as const };
  return text([crossingWords(rows, speed)], {
    x: () => speed,
    frameAnchor: 'top',
    dy: 10 + 14 * place,
    ...side,
    fill: TONE.accent,
    fontWeight: 600,
  });
}

function crossingWords(rows: Row[], speed: number): string {
  return `${atBudget(rows, speed)} at ${figure(tenth(speed * 3.6))} km/h`;
}

/** Whether the limit leaves the budget or comes back under it at this crossing. */
function atBudget(rows: Row[], speed: number): string {
  const next = rows.find((row) => row.speedMps >= speed) as Row;
  return next.limit > next.budget ? 'over the budget' : 'under the budget again';
}

/** The limit where it is over the budget, with gaps between; starts and ends on the crossings. */
function overBudget(rows: Row[]): { speedMps: number; limit: number }[] {
  const result: { speedMps: number; limit: number }[] = [];
  const over = (row: Row) => row.limit > row.budget;
  rows.forEach((row, i) => {
    const before = rows[i - 1];
    if (before && over(before) !== over(row)) {
      const at = limitCrossings([before, row])[0] ?? row.speedMps;
      const share = (at - before.speedMps) / (row.speedMps - before.speedMps);
      result.push({ speedMps: at, limit: before.limit + share * (row.limit - before.limit) });
      if (over(before)) result.push({ speedMps: at, limit: Number.NaN });
    }
    if (over(row)) result.push({ speedMps: row.speedMps, limit: row.limit });
  });
  return result;
}

/** The part of a curve below `top`, ending exactly there: the budget near standstill is far above any table. */
function cutAt(curve: { speedMps: number; value: number }[], top: number): typeof curve {
  return curve.flatMap((point, i) => {
    const before = curve[i - 1];
    const meeting: typeof curve = [];
    if (before && before.value > top !== point.value > top) {
      const share = (top - before.value) / (point.value - before.value);
      meeting.push({ speedMps: before.speedMps + share * (point.speedMps - before.speedMps), value: top });
    }
    return point.value > top ? meeting : [...meeting, point];
  });
}

function every(end: number, step: number): number[] {
  return Array.from({ length: Math.floor(end / step) + 1 }, (_, i) => i * step);
}

function nameOf({ quantity, rows }: LimitOverBudgetData, crossed: number[]): string {
  const words = crossed.map((speed) => crossingWords(rows, speed));
  const standing = rows.some((row) => row.limit > row.budget)
    ? 'over the budget everywhere shown'
    : 'under the budget at every speed shown';
  return `${quantity === 'level' ? 'Level' : 'Slew'} limit over speed against the budget: ${words.length > 0 ? words.join(', ') : standing}`;
}
