/** Buses as double lines, the units that hang on them, and the units that join several buses. */
import { DEFAULT_WIDTH, drawing, el, type FigureOptions, TONE, textWidth } from './svg.ts';

export interface BuildDrawingData {
  title: string;
  buses: { name: string; bitRateBps: number; dataBitRateBps?: number | undefined }[];
  units: { name: string; role: 'host' | 'donor' | 'gateway' | 'controller'; part: string; buses: string[] }[];
}

type Bus = BuildDrawingData['buses'][number];
type Unit = BuildDrawingData['units'][number];

const NAMES = 104;
const BOX = { width: 112, widest: 136, height: 76, gap: 14, widestGap: 34 };
const STUB = 16;
const JOINT = { width: 112, gap: 24 };
const LANE_GAP = 26;
/** More units than this on one bus hang on both sides of its line. */
const PER_SIDE = 4;

export function buildDrawing(data: BuildDrawingData, options: FigureOptions): SVGSVGElement {
  const { document } = options;
  const lanes = lanesOf(data);
  const joints = data.units.filter((unit) => knownBuses(unit, data.buses).length > 1);
  const slots = Math.max(1, ...lanes.map(({ above, below }) => Math.max(above.length, below.length)));
  const grid = gridOf(slots, joints.length, options.width ?? DEFAULT_WIDTH);
  const width = Math.max(options.width ?? DEFAULT_WIDTH, grid.end);
  const height = (lanes.at(-1)?.bottom ?? 20) + 26;
  const svg = drawing(document, { width, height }, nameOf(data), 'build');
  for (const lane of lanes) svg.append(busLine(document, lane, lineEnd(lane, joints, grid)));
  for (const lane of lanes) {
    lane.above.forEach((unit, i) => {
      svg.append(hung(document, unit, slot(grid, i, lane.y - STUB - BOX.height), lane.y));
    });
    lane.below.forEach((unit, i) => {
      svg.append(hung(document, unit, slot(grid, i, lane.y + STUB), lane.y));
    });
  }
  joints.forEach((unit, i) => {
    const behind = lanes.filter((lane) => lineEnd(lane, joints, grid) > jointX(grid, i));
    svg.append(joint(document, unit, jointX(grid, i), lanes, behind));
  });
  return svg;
}

/** Boxes and gaps grow until the drawing fills its width. */
interface Grid {
  box: number;
  pitch: number;
  joints: number;
  end: number;
}

function gridOf(slots: number, joints: number, width: number): Grid {
  const joined = joints > 0 ? joints * (JOINT.width + JOINT.gap) - JOINT.gap : 0;
  const room = (width - NAMES - joined - 2) / slots;
  const pitch = Math.min(BOX.widest + BOX.widestGap, Math.max(BOX.width + BOX.gap, room));
  const box = Math.min(BOX.widest, pitch - BOX.gap);
  const jointsAt = NAMES + slots * pitch;
  return { box, pitch, joints: jointsAt, end: jointsAt + joined + 2 };
}

function jointX(grid: Grid, joint: number): number {
  return grid.joints + joint * (JOINT.width + JOINT.gap);
}

/** A bus ends at the last unit that joins it to another, or after its own units. */
function lineEnd({ bus }: Lane, joints: Unit[], grid: Grid): number {
  const last = joints.findLastIndex((unit) => unit.buses.includes(bus.name));
  return last < 0 ? grid.joints - BOX.gap : jointX(grid, last);
}

interface Lane {
  bus: Bus;
  above: Unit[];
  below: Unit[];
  /** Height of the bus line, and lower edge of everything on it. */
  y: number;
  bottom: number;
}

function knownBuses(unit: Unit, buses: Bus[]): string[] {
  return [...new Set(unit.buses)].filter((name) => buses.some((bus) => bus.name === name));
}

function lanesOf({ buses, units }: BuildDrawingData): Lane[] {
  let top = 12;
  return buses.map((bus) => {
    const own = units.filter((unit) => knownBuses(unit, buses).length === 1 && unit.buses.includes(bus.name));
    const half = own.length > PER_SIDE ? Math.floor(own.length / 2) : 0;
    const above = own.slice(0, half);
    const below = own.slice(half);
    const y = top + (above.length > 0 ? BOX.height + STUB : 14);
    const bottom = y + (below.length > 0 ? STUB + BOX.height : 34);
    top = bottom + LANE_GAP;
    return { bus, above, below, y, bottom };
  });
}

function slot(grid: Grid, place: number, y: number): Box {
  return { x: NAMES + place * grid.pitch, y, width: grid.box, height: BOX.height };
}

function busLine(document: Document, { bus, y }: Lane, end: number): SVGElement {
  const rate = bus.dataBitRateBps
    ? `${kilobits(bus.bitRateBps)} / ${kilobits(bus.dataBitRateBps)} kbit/s`
    : `${kilobits(bus.bitRateBps)} kbit/s`;
  const line = (dy: number) =>
    el(document, 'line', {
      x1: NAMES - 12,
      x2: end,
      y1: y + dy,
      y2: y + dy,
      stroke: TONE.ink,
      'stroke-width': 1.2,
    });
  return el(
    document,
    'g',
    {},
    line(-1.8),
    line(1.8),
    el(document, 'text', { x: 0, y: y + 1, 'font-weight': 600, 'font-size': 12.5 }, bus.name),
    el(document, 'text', { x: 0, y: y + 15, fill: TONE.soft, 'font-size': 10 }, rate),
  );
}

function kilobits(bitsPerSecond: number): string {
  return String(bitsPerSecond / 1000);
}

interface Box {
  x: number;
  y: number;
  width: number;
  height: number;
}

function hung(document: Document, unit: Unit, box: Box, busY: number): SVGElement {
  const edge = box.y > busY ? box.y : box.y + box.height;
  const middle = box.x + box.width / 2;
  return el(
    document,
    'g',
    { class: `unit ${unit.role}` },
    el(document, 'line', {
      x1: middle,
      x2: middle,
      y1: busY,
      y2: edge,
      stroke: TONE.ink,
      'stroke-width': 1.2,
    }),
    tap(document, middle, busY),
    outline(document, unit.role, box),
    ...words(document, unit, box),
  );
}

/** A unit on several buses stands across them; a bus that only passes behind it is drawn as a hidden line, dashed. */
function joint(document: Document, unit: Unit, x: number, lanes: Lane[], behind: Lane[]): SVGElement {
  const ys = lanes.filter(({ bus }) => unit.buses.includes(bus.name)).map(({ y }) => y);
  const top = Math.min(...ys) - 14;
  const bottom = Math.max(...ys) + 14;
  const group = el(document, 'g', { class: `unit ${unit.role}` });
  group.append(outline(document, unit.role, { x, y: top, width: JOINT.width, height: bottom - top }));
  for (const lane of lanes) {
    const { bus, y } = lane;
    if (unit.buses.includes(bus.name)) {
      group.append(
        tap(document, x, y),
        el(document, 'text', { x: x + 8, y: y + 3.5, fill: TONE.soft, 'font-size': 10 }, bus.name),
      );
    } else if (behind.includes(lane) && y > top && y < bottom) {
      group.append(
        el(document, 'line', {
          x1: x,
          x2: x + JOINT.width,
          y1: y,
          y2: y,
          stroke: TONE.soft,
          'stroke-dasharray': '4 3',
        }),
      );
    }
  }
  group.append(...words(document, unit, { x, width: JOINT.width, ...freeStretch(top, bottom, lanes) }));
  return group;
}

/** The widest stretch of a joint that no bus line crosses. */
function freeStretch(top: number, bottom: number, lanes: Lane[]): { y: number; height: number } {
  const edges = [top, ...lanes.map(({ y }) => y).filter((y) => y > top && y < bottom), bottom];
  return edges
    .slice(1)
    .map((edge, i) => ({ y: edges[i] as number, height: edge - (edges[i] as number) }))
    .reduce((a, b) => (b.height > a.height ? b : a));
}

function tap(document: Document, x: number, y: number): SVGElement {
  return el(document, 'circle', { cx: x, cy: y, r: 3.4, fill: TONE.ink });
}

/** The role shows in the outline as well as in words: donor double, gateway heavy, controller with cut corners, host plain. */
function outline(document: Document, role: Unit['role'], box: Box): SVGElement {
  const { x, y, width, height } = box;
  const drawn = {
    ...box,
    fill: TONE.paper,
    stroke: TONE.ink,
    'stroke-width': role === 'gateway' ? 2.4 : 1.2,
  };
  if (role === 'controller') {
    const c = 9;
    const d =
      `M${x + c} ${y}H${x + width - c}L${x + width} ${y + c}V${y + height - c}L${x + width - c} ${y + height}` +
      `H${x + c}L${x} ${y + height - c}V${y + c}Z`;
    return el(document, 'path', { d, fill: TONE.paper, stroke: TONE.ink, 'stroke-width': 1.2 });
  }
  if (role !== 'donor') return el(document, 'rect', drawn);
  const inner = { x: x + 3.5, y: y + 3.5, width: width - 7, height: height - 7 };
  return el(
    document,
    'g',
    {},
    el(document, 'rect', drawn),
    el(document, 'rect', { ...inner, fill: 'none', stroke: TONE.ink, 'stroke-width': 0.7 }),
  );
}

/** Name, part and role in the middle of a box; a name or part that needs more lines than there is room for is cut. */
function words(document: Document, unit: Unit, box: Box): SVGElement[] {
  const room = box.width - 14;
  const role = unit.part.toLowerCase().includes(unit.role) ? [] : [unit.role];
  const name = wrapped(unit.name, room / 1.08, 11, 2);
  const part = wrapped(
    unit.part,
    room,
    10,
    Math.max(1, Math.floor(box.height / 12) - name.length - role.length - 1),
  );
  const lines = [
    ...name.map((text) => ({ text, style: { 'font-weight': 600 } })),
    ...part.map((text) => ({ text, style: { 'font-size': 10, fill: TONE.soft } })),
    ...role.map((text) => ({ text, style: { 'font-size': 10, fill: TONE.soft, 'font-style': 'italic' } })),
  ];
  const first = box.y + box.height / 2 - 6 * lines.length + 9;
  return lines.map(({ text, style }, i) =>
    el(
      document,
      'text',
      { x: box.x + box.width / 2, y: first + 12 * i, 'text-anchor': 'middle', ...style },
      text,
    ),
  );
}

function wrapped(text: string, room: number, size: number, most: number): string[] {
  const lines: string[] = [];
  for (const word of text.split(/\s+/)) {
    const last = lines.at(-1);
    if (last !== undefined && textWidth(`${last} ${word}`, size) <= room)
      lines[lines.length - 1] = `${last} ${word}`;
    else lines.push(word);
  }
  const shown = lines.slice(0, most);
  if (lines.length > most) shown[most - 1] = `${shown[most - 1]} …`;
  return shown.map((line) => cut(line, room, size));
}

function cut(text: string, room: number, size: number): string {
  if (textWidth(text, size) <= room) return text;
  const letters = Math.max(1, Math.floor(room / textWidth('x', size)) - 1);
  return `${text.slice(0, letters).trimEnd()}…`;
}

function nameOf({ title, buses, units }: BuildDrawingData): string {
  const lines = buses.map(({ name }) => {
    const on = units.filter((unit) => unit.buses.includes(name)).map((unit) => unit.name);
    return `bus ${name} with ${on.length > 0 ? on.join(', ') : 'no unit'}`;
  });
  return `Units and buses of ${title}: ${lines.join('; ')}`;
}
