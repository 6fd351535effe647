/** How the guard hands over and takes back: its modes, the ways between them, and what opens each. */
import { DEFAULT_WIDTH, drawing, el, type FigureOptions, TONE } from './svg.ts';

export interface HandoverData {
  /** What must hold for the guard to become ready, one short line each. */
  conditions: string[];
  /** Reasons to release and to trip, one short line each. */
  releases: string[];
  trips: string[];
  /** Mode to mark as the one of now; null where none is. */
  now: Mode | null;
}

type Mode = 'idle' | 'ready' | 'armed' | 'releasing' | 'tripped';

interface Box {
  mode: Mode;
  x: number;
  y: number;
  words: string;
}

const WIDE = 112;
const HIGH = 46;
const LINE = 13.5;

/** The top row leads to armed, the lower row back from it; the reasons stand beside the ways that they open. */
export function handover(data: HandoverData, options: FigureOptions): SVGSVGElement {
  const { document, width = DEFAULT_WIDTH } = options;
  const gap = (width - 3 * WIDE - 20) / 2;
  const [left, middle, right] = [10, 10 + WIDE + gap, 10 + 2 * (WIDE + gap)];
  const listed = Math.max(data.releases.length, data.trips.length, 1);
  const top = 40 + data.conditions.length * LINE;
  const low = top + HIGH + 60 + listed * LINE;
  const boxes: Box[] = [
    { mode: 'idle', x: left, y: top, words: 'orders nothing' },
    { mode: 'ready', x: middle, y: top, words: 'may be armed' },
    { mode: 'armed', x: right, y: top, words: 'orders, within limits' },
    { mode: 'releasing', x: middle, y: low, words: 'orders go to zero' },
    { mode: 'tripped', x: right, y: low, words: 'orders go to zero' },
  ];
  const height = low + HIGH + 54;
  const svg = drawing(document, { width, height }, nameOf(data), 'handover');
  const text = (x: number, y: number, words: string, more: Record<string, string | number> = {}) =>
    el(document, 'text', { x, y, fill: TONE.ink, ...more }, words);
  const way = (points: [number, number][]) =>
    el(document, 'polyline', {
      points: points.map((p) => p.join(',')).join(' '),
      fill: 'none',
      stroke: TONE.ink,
      'stroke-width': 1.2,
    });
  const head = (x: number, y: number, dx: number, dy: number) =>
    el(document, 'path', {
      d: `M${x},${y} L${x - 7 * dx - 3.5 * dy},${y - 7 * dy - 3.5 * dx} L${x - 7 * dx + 3.5 * dy},${y - 7 * dy + 3.5 * dx} Z`,
      fill: TONE.ink,
    });
  const list = (x: number, y: number, lines: string[], anchor: 'start' | 'end' = 'start') =>
    lines.map((line, i) => text(x, y + i * LINE, line, { fill: TONE.soft, 'text-anchor': anchor }));
  const mid = top + HIGH / 2;

  // Idle to ready: the conditions stand above the way.
  svg.append(
    way([
      [left + WIDE, mid],
      [middle, mid],
    ]),
    head(middle, mid, 1, 0),
  );
  svg.append(
    text(left, 18, 'all of these, held:', { 'font-weight': 600 }),
    ...list(left + 8, 18 + LINE, data.conditions),
  );
  // Ready to armed.
  svg.append(
    way([
      [middle + WIDE, mid],
      [right, mid],
    ]),
    head(right, mid, 1, 0),
  );
  svg.append(
    text(middle + WIDE + gap / 2, mid - 8, 'a fresh press', { 'text-anchor': 'middle', 'font-weight': 600 }),
  );
  // Armed to releasing, and to tripped.
  const [downA, downB] = [right + 26, right + WIDE - 26];
  const reasons = top + HIGH + 22;
  svg.append(
    way([
      [downA, top + HIGH],
      [downA, low - 24],
      [middle + WIDE / 2, low - 24],
      [middle + WIDE / 2, low],
    ]),
  );
  svg.append(head(middle + WIDE / 2, low, 0, 1));
  svg.append(
    way([
      [downB, top + HIGH],
      [downB, low],
    ]),
    head(downB, low, 0, 1),
  );
  svg.append(
    text(left + 46, reasons, 'any of these releases:', { 'font-weight': 600 }),
    ...list(left + 54, reasons + LINE, data.releases),
    text(middle + 24, reasons, 'any of these trips:', { 'font-weight': 600 }),
    ...list(middle + 32, reasons + LINE, data.trips),
  );
  // Back to idle.
  const back = low + HIGH + 26;
  svg.append(
    way([
      [middle, low + HIGH / 2],
      [left + 30, low + HIGH / 2],
      [left + 30, top + HIGH],
    ]),
    head(left + 30, top + HIGH, 0, -1),
    text(left + 38, low + HIGH / 2 - 6, 'every order zero', { 'font-weight': 600 }),
    way([
      [right + WIDE / 2, low + HIGH],
      [right + WIDE / 2, back],
      [left + 12, back],
      [left + 12, top + HIGH],
    ]),
    head(left + 12, top + HIGH, 0, -1),
    text(middle + WIDE / 2, back - 6, 'every order zero, and a fresh press acknowledges', {
      'text-anchor': 'middle',
      'font-weight': 600,
    }),
  );
  for (const box of boxes) {
    const here = box.mode === data.now;
    svg.append(
      el(document, 'rect', {
        x: box.x,
        y: box.y,
        width: WIDE,
        height: HIGH,
        fill: TONE.paper,
        stroke: here ? TONE.accent : TONE.ink,
        'stroke-width': here ? 3 : 1.2,
        ...(box.mode === 'tripped' ? { 'stroke-dasharray': '6 3' } : {}),
      }),
      text(box.x + WIDE / 2, box.y + 19, here ? `▸ ${box.mode}` : box.mode, {
        'text-anchor': 'middle',
        'font-weight': 600,
        'font-size': 13,
      }),
      text(box.x + WIDE / 2, box.y + 35, box.words, { 'text-anchor': 'middle', fill: TONE.soft }),
    );
  }
  return svg;
}

function nameOf({ conditions, releases, trips, now }: HandoverData): string {
  return (
    `Idle becomes ready while ${conditions.length} conditions hold; ready becomes armed by a fresh press; armed releases for ` +
    `${releases.length} reasons and trips for ${trips.length}; both lead back to idle${now === null ? '' : `; now ${now}`}`
  );
}
