/** One signal with those that it is tied to: at the left what it follows, at the right what follows it, each line with its figures. */
import { DEFAULT_WIDTH, drawing, el, type FigureOptions, TONE, textWidth } from './svg.ts';

export interface RelationDrawingData {
  centre: RelationPlate;
  left: RelationBranch[];
  right: RelationBranch[];
}

export interface RelationPlate {
  /** Comes back as `data-signal` of the plate. */
  key: string;
  /** Name, or what stands in its place. */
  title: string;
  /** "1A0, bit 16, 12 long" */
  place: string;
  /** A person accepted it: a heavy frame. */
  isAccepted: boolean;
}

export interface RelationBranch {
  plate: RelationPlate;
  /** Over the line: "copy × 0.5". */
  words: string;
  /** Under it: "12 ms later, p 0.97". */
  figures: string;
  /** The second signal of a sum or product: "with yaw rate". */
  note: string;
  /** A copy has a double line, a rate a dashed one. */
  line: 'double' | 'single' | 'dashed';
  /** Where the arrow points; neither where no side comes first. */
  towards: 'centre' | 'plate' | 'neither';
}

export interface RelationDrawingOptions extends FigureOptions {
  /** `walk`: every plate can be reached and pressed, for a page. Default `still`. */
  plates?: 'still' | 'walk';
}

const PLATE = { width: 172, height: 44 };
const PITCH = 62;
/** From the spine to the plate in the middle. */
const STUB = 16;
const CHARS = 29;

export function relationDrawing(data: RelationDrawingData, options: RelationDrawingOptions): SVGSVGElement {
  const { document, width = DEFAULT_WIDTH, plates = 'still' } = options;
  const rows = Math.max(1, data.left.length, data.right.length);
  const height = rows * PITCH + 4;
  const middle = { x: (width - PLATE.width) / 2, y: height / 2 };
  const svg = drawing(document, { width, height }, nameOf(data), 'relations');
  if (plates === 'walk') svg.setAttribute('role', 'group');
  for (const side of ['left', 'right'] as const) {
    const branches = data[side];
    if (branches.length === 0) continue;
    const spine = side === 'left' ? middle.x - STUB : middle.x + PLATE.width + STUB;
    const edge = side === 'left' ? PLATE.width : width - PLATE.width;
    const ys = branches.map((_, i) => middle.y + (i - (branches.length - 1) / 2) * PITCH);
    svg.append(spineOf(document, spine, ys, middle, side));
    for (const [i, branch] of branches.entries()) {
      const y = ys[i] as number;
      svg.append(...leader(document, branch, edge, spine, y));
      svg.append(
        plate(
          document,
          branch.plate,
          { x: side === 'left' ? 0 : edge, y },
          plates,
          branch.note,
          wordsOf(branch),
        ),
      );
    }
  }
  svg.append(plate(document, data.centre, middle, plates, '', 'in the middle'));
  return svg;
}

function nameOf({ centre, left, right }: RelationDrawingData): string {
  const of = (branches: RelationBranch[]) =>
    branches.map((b) => `${b.plate.title} (${wordsOf(b)})`).join('; ');
  const parts = [left.length > 0 && `before it ${of(left)}`, right.length > 0 && `after it ${of(right)}`];
  return `${centre.title}: ${parts.filter(Boolean).join('. ') || 'tied to nothing'}`;
}

function wordsOf({ words, figures, note }: RelationBranch): string {
  return [words, note, figures].filter(Boolean).join(', ');
}

/** The line that gathers the leaders of one side and leads to the plate in the middle. */
function spineOf(
  document: Document,
  x: number,
  ys: number[],
  middle: { x: number; y: number },
  side: 'left' | 'right',
): SVGElement {
  const end = side === 'left' ? middle.x : middle.x + PLATE.width;
  const top = Math.min(middle.y, ...ys);
  const bottom = Math.max(middle.y, ...ys);
  return el(document, 'path', {
    d: `M${x} ${top}V${bottom}M${x} ${middle.y}H${end}`,
    fill: 'none',
    stroke: TONE.ink,
    'stroke-width': 1,
  });
}

function leader(
  document: Document,
  { words, figures, line, towards }: RelationBranch,
  edge: number,
  spine: number,
  y: number,
): SVGElement[] {
  const at = (edge + spine) / 2;
  const strokes = line === 'double' ? [y - 1.6, y + 1.6] : [y];
  const lines = strokes.map((y1) =>
    el(document, 'line', {
      x1: edge,
      x2: spine,
      y1,
      y2: y1,
      stroke: TONE.ink,
      'stroke-width': 1,
      'stroke-dasharray': line === 'dashed' ? '5 3' : undefined,
    }),
  );
  const anchor = { x: at, 'text-anchor': 'middle' };
  return [
    ...lines,
    ...(towards === 'neither'
      ? []
      : [
          arrow(
            document,
            towards === 'centre' ? spine : edge,
            edge < spine === (towards === 'centre') ? 1 : -1,
            y,
          ),
        ]),
    el(document, 'text', { ...anchor, y: y - 6 }, fitted(words, Math.abs(spine - edge))),
    el(document, 'text', { ...anchor, y: y + 14, 'font-size': 10, fill: TONE.soft }, figures),
  ];
}

/** A filled tip at `x`, pointing right (1) or left (−1). */
function arrow(document: Document, x: number, direction: 1 | -1, y: number): SVGElement {
  const back = x - direction * 8;
  return el(document, 'path', { d: `M${x} ${y}L${back} ${y - 3.6}V${y + 3.6}Z`, fill: TONE.ink });
}

function plate(
  document: Document,
  { key, title, place, isAccepted }: RelationPlate,
  at: { x: number; y: number },
  plates: 'still' | 'walk',
  note: string,
  tie: string,
): SVGElement {
  const top = at.y - PLATE.height / 2;
  const group = el(document, 'g', { class: 'plate', 'data-signal': key });
  if (plates === 'walk') {
    group.setAttribute('role', 'button');
    group.setAttribute('tabindex', '-1');
    group.setAttribute('aria-label', `${title}, ${place}: ${tie}`);
  }
  const text = { x: at.x + 8 };
  group.append(
    el(document, 'rect', {
      x: at.x + 0.8,
      y: top,
      width: PLATE.width - 1.6,
      height: PLATE.height,
      fill: TONE.paper,
      stroke: TONE.ink,
      'stroke-width': isAccepted ? 1.8 : 0.8,
    }),
    el(
      document,
      'text',
      { ...text, y: top + (note ? 14 : 18), 'font-weight': 600 },
      fitted(title, PLATE.width - 14),
    ),
    el(
      document,
      'text',
      { ...text, y: top + (note ? 27 : 34), 'font-size': 10, fill: TONE.soft },
      fitted(place, PLATE.width, CHARS),
    ),
  );
  if (note)
    group.append(
      el(document, 'text', { ...text, y: top + 39, 'font-size': 10 }, fitted(note, PLATE.width, CHARS)),
    );
  return group;
}

/** As much of the text as has room, with an ellipsis where something is missing. */
function fitted(text: string, width: number, chars = Math.floor(width / textWidth('x'))): string {
  return text.length <= chars ? text : `${text.slice(0, Math.max(1, chars - 1))}…`;
}
