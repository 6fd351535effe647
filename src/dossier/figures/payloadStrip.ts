/** The payload of one message as a strip of bits: bar height tells how often a bit changes, brackets underneath the fields. */
import type { BitField } from '../../can/bits.ts';
import { type BitLayout, barShare, columnOf, type Piece, piecesOf, topColumn } from './payloadBits.ts';
import { DEFAULT_WIDTH, drawing, el, type FigureOptions, rounded, TONE, textWidth } from './svg.ts';

export interface StripField extends BitField {
  /** Mark that the table of fields repeats: "a", "b", … */
  key: string;
  label: string;
  /** Heavy bracket, thin bracket, dashed bracket. */
  standing: 'accepted' | 'found' | 'undecided';
}

export interface PayloadStripData {
  /** Name or identifier of the message. */
  name: string;
  /** Share of frames in which each bit differs from the frame before; index = 8 × byte + bit. */
  flipRate: ArrayLike<number>;
  fields: StripField[];
}

export interface PayloadStripOptions extends FigureOptions {
  /** Default `falling`. */
  layout?: BitLayout;
}

const LEFT = 38;
const BYTES_PER_ROW = 8;
const COLUMNS = 8 * BYTES_PER_ROW;
const BYTE_GAP = 5;
const HEAD = 28;
const BARS = 66;
const LANE = 27;
const TICKS = [0.01, 0.1, 0.5, 1];

export function payloadStrip(data: PayloadStripData, options: PayloadStripOptions): SVGSVGElement {
  const { document, width = DEFAULT_WIDTH, layout = 'falling' } = options;
  const rows = Math.max(1, Math.ceil(data.flipRate.length / COLUMNS));
  const grid = gridOf(width);
  const placed = inLanes(data.fields, layout);
  const laneCount = (row: number) =>
    Math.max(0, ...placed.filter(({ pieces }) => inRow(pieces, row).length > 0).map(({ lane }) => lane + 1));
  const rowHeights = Array.from({ length: rows }, (_, row) => HEAD + BARS + 6 + LANE * laneCount(row) + 6);
  const height = rowHeights.reduce((a, b) => a + b, 0);
  const svg = drawing(document, { width, height }, nameOf(data), 'payload-strip');
  let top = 0;
  for (let row = 0; row < rows; row++) {
    const group = el(document, 'g', { transform: `translate(0 ${top})` });
    group.append(...bars(document, data, layout, row, grid));
    for (const field of placed) group.append(...bracket(document, field, placed, layout, row, grid));
    svg.append(group);
    top += rowHeights[row] as number;
  }
  return svg;
}

interface Grid {
  pitch: number;
  /** Left edge of a column within its row. */
  x(column: number): number;
}

interface Placed {
  field: StripField;
  pieces: Piece[];
  lane: number;
}

function gridOf(width: number): Grid {
  const pitch = (width - LEFT - 4 - BYTE_GAP * (BYTES_PER_ROW - 1)) / COLUMNS;
  return { pitch, x: (column) => LEFT + column * pitch + BYTE_GAP * Math.floor(column / 8) };
}

/** Fields that lie over each other, as behind a selector or split by byte order, get brackets one under the other. */
function inLanes(fields: StripField[], layout: BitLayout): Placed[] {
  const ends: number[] = [];
  return fields
    .map((field) => ({ field, pieces: piecesOf(field, layout, COLUMNS) }))
    .sort((a, b) => (a.pieces[0] as Piece).first - (b.pieces[0] as Piece).first)
    .map(({ field, pieces }) => {
      const first = (pieces[0] as Piece).first;
      const free = ends.findIndex((end) => end < first);
      const lane = free < 0 ? ends.length : free;
      ends[lane] = (pieces.at(-1) as Piece).last;
      return { field, pieces, lane };
    });
}

function inRow(pieces: Piece[], row: number): Piece[] {
  return pieces
    .filter(({ first }) => Math.floor(first / COLUMNS) === row)
    .map(({ first, last }) => ({ first: first - row * COLUMNS, last: last - row * COLUMNS }));
}

function bars(
  document: Document,
  data: PayloadStripData,
  layout: BitLayout,
  row: number,
  grid: Grid,
): SVGElement[] {
  const base = HEAD + BARS;
  const columns = Math.min(COLUMNS, data.flipRate.length - row * COLUMNS);
  const right = grid.x(Math.max(0, columns - 1)) + grid.pitch;
  const scale = el(document, 'g', { 'font-size': 9, fill: TONE.soft, 'text-anchor': 'end' });
  for (const tick of TICKS) {
    const y = base - barShare(tick) * BARS;
    scale.append(
      el(document, 'line', { x1: LEFT, x2: right, y1: y, y2: y, stroke: TONE.rule, 'stroke-width': 0.5 }),
      el(document, 'text', { x: LEFT - 5, y: y + 3 }, `${tick * 100} %`),
    );
  }
  const heads = el(document, 'g', { 'text-anchor': 'middle' });
  const marks = el(document, 'g');
  for (let column = 0; column < columns; column++) {
    const bit = columnOf(column + row * COLUMNS, layout);
    const x = grid.x(column);
    const rate = data.flipRate[bit] ?? 0;
    if (column % 8 === 0) heads.append(...byteHead(document, bit >> 3, layout, x, grid));
    marks.append(
      rate > 0
        ? el(document, 'rect', {
            x: x + 1.2,
            width: grid.pitch - 2.4,
            y: base - Math.max(1.5, barShare(rate) * BARS),
            height: Math.max(1.5, barShare(rate) * BARS),
          })
        : el(document, 'circle', {
            cx: x + grid.pitch / 2,
            cy: base - 3,
            r: 1.6,
            fill: 'none',
            stroke: TONE.soft,
            'stroke-width': 0.8,
          }),
    );
  }
  return [
    scale,
    heads,
    marks,
    el(document, 'line', { x1: LEFT, x2: right, y1: base, y2: base, stroke: TONE.ink, 'stroke-width': 1 }),
  ];
}

function byteHead(document: Document, byte: number, layout: BitLayout, x: number, grid: Grid): SVGElement[] {
  const [left, right] = layout === 'falling' ? [8 * byte + 7, 8 * byte] : [8 * byte, 8 * byte + 7];
  const ends = { y: HEAD - 8, 'font-size': 9, fill: TONE.soft };
  return [
    el(document, 'text', { x: x + grid.pitch * 4, y: 10 }, `byte ${byte}`),
    el(document, 'text', { x: x + 2, 'text-anchor': 'start', ...ends }, String(left)),
    el(document, 'text', { x: x + grid.pitch * 8 - 2, 'text-anchor': 'end', ...ends }, String(right)),
  ];
}

const STROKE = {
  accepted: { 'stroke-width': 2.2 },
  found: { 'stroke-width': 1 },
  undecided: { 'stroke-width': 1, 'stroke-dasharray': '3 2.5' },
} as const;

function bracket(
  document: Document,
  placed: Placed,
  all: Placed[],
  layout: BitLayout,
  row: number,
  grid: Grid,
): SVGElement[] {
  const pieces = inRow(placed.pieces, row);
  if (pieces.length === 0) return [];
  const { field, lane } = placed;
  const y = HEAD + BARS + 6 + lane * LANE;
  const foot = y + 8;
  const left = (piece: Piece) => grid.x(piece.first) + 1;
  const right = (piece: Piece) => grid.x(piece.last) + grid.pitch - 1;
  const group = el(document, 'g', { fill: 'none', stroke: TONE.ink, ...STROKE[field.standing] });
  group.append(
    el(document, 'title', {}, `${field.label}, ${field.standing}`),
    ...pieces.map((p) =>
      el(document, 'path', { d: `M${rounded(left(p))} ${y}V${foot}H${rounded(right(p))}V${y}` }),
    ),
    ...pieces.slice(1).map((p, i) =>
      el(document, 'path', {
        d: `M${rounded(right(pieces[i] as Piece))} ${foot}H${rounded(left(p))}`,
        stroke: TONE.soft,
        'stroke-width': 0.7,
        'stroke-dasharray': '1 2',
      }),
    ),
  );
  const top = topColumn(field, layout) - row * COLUMNS;
  if (field.length > 1 && top >= 0 && top < COLUMNS) group.append(topMark(document, top, y, grid));
  const from = left(pieces[0] as Piece);
  const to = right(pieces.at(-1) as Piece);
  return [group, caption(document, field, from, to, roomTo(placed, all, row, grid), foot + 13)];
}

/** A small triangle over the bracket at the most significant bit. */
function topMark(document: Document, column: number, y: number, grid: Grid): SVGElement {
  const x = grid.x(column) + grid.pitch / 2;
  return el(document, 'path', {
    d: `M${rounded(x - 3)} ${y - 1}H${rounded(x + 3)}L${rounded(x)} ${y + 4}Z`,
    fill: TONE.ink,
    stroke: 'none',
  });
}

/** Right end of the room that a label may use: up to the next bracket of the same lane. */
function roomTo(placed: Placed, all: Placed[], row: number, grid: Grid): number {
  const last = (inRow(placed.pieces, row).at(-1) as Piece).last;
  const next = all
    .filter((other) => other !== placed && other.lane === placed.lane)
    .flatMap((other) => inRow(other.pieces, row))
    .map(({ first }) => first)
    .filter((first) => first > last);
  return next.length > 0 ? grid.x(Math.min(...next)) - 4 : grid.x(COLUMNS - 1) + grid.pitch;
}

function caption(
  document: Document,
  field: StripField,
  from: number,
  to: number,
  room: number,
  y: number,
): SVGElement {
  const full = `${field.key} ${field.label}`;
  const width = textWidth(full);
  const centred = width <= to - from;
  const fits = centred || width <= room - from;
  const key = el(document, 'tspan', { 'font-weight': 600 }, field.key);
  return el(
    document,
    'text',
    centred || !fits
      ? { x: (from + to) / 2, y, 'text-anchor': 'middle' }
      : { x: from, y, 'text-anchor': 'start' },
    key,
    ...(fits ? [` ${field.label}`] : []),
  );
}

function nameOf({ name, flipRate, fields }: PayloadStripData): string {
  const list = fields.map((f) => `${f.key} ${f.label}, ${f.standing}`).join('; ');
  return `Payload strip of ${name}: ${flipRate.length} bits${list ? `; fields: ${list}` : ''}`;
}
