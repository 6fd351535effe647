/** Cues as brackets above the lanes, in as many rows as keep them from lying over each other. */
import type { AxisCue, TimeAxis } from './axis.ts';
import { fitted, type Paper, rule } from './paper.ts';
import type { Span } from './span.ts';

export const CUE_ROW = 22;
/** Rows at most; further cues share the last. */
const ROWS = 4;
/** Pixels around an edge that still take hold of it. */
const GRIP = 5;

export interface CueGrip {
  cue: AxisCue;
  part: 'start' | 'end' | 'middle';
}

/** Row of each cue, by start; the same at every zoom. */
export function rowsOf(cues: readonly AxisCue[]): Map<AxisCue, number> {
  const ends: number[] = [];
  const rows = new Map<AxisCue, number>();
  for (const cue of [...cues].sort((a, b) => a.startS - b.startS)) {
    const free = ends.findIndex((end) => end <= cue.startS);
    const row = Math.min(ROWS - 1, free < 0 ? ends.length : free);
    ends[row] = Math.max(ends[row] ?? Number.NEGATIVE_INFINITY, cue.endS);
    rows.set(cue, row);
  }
  return rows;
}

export function drawCues(paper: Paper, axis: TimeAxis, rows: Map<AxisCue, number>): void {
  const { context, width, tones } = paper;
  const { view, mark, moving } = axis;
  const x = placer(view, width);
  // From the last to the first, so that a name knows how much room there is before the next bracket of its row.
  const nextOf: number[] = [];
  for (const [cue, row] of [...rows].reverse()) {
    const end = Math.min(width, nextOf[row] ?? width);
    nextOf[row] = x(cue.startS);
    const shown = moving && same(moving, cue) ? moving : cue;
    const [a, b] = [x(shown.startS), x(shown.endS)];
    if (Math.max(a, b) < -1 || Math.min(a, b) > width + 1) continue;
    const isChosen = axis.chosen !== null && same(axis.chosen, cue);
    context.strokeStyle = isChosen ? tones.accent : tones.ink;
    context.lineWidth = isChosen ? 2 : 1;
    bracket(paper, a, b, row * CUE_ROW + 15);
    context.lineWidth = 1;
    const left = Math.max(2, Math.min(a, b) + 2);
    const text = cue.level === undefined ? cue.name : `${cue.name}, ${cue.level}`;
    const room = end - 4 - left;
    context.fillStyle = isChosen ? tones.accent : tones.ink;
    context.fillText(fitted(paper, text, room), left, row * CUE_ROW + 11);
  }
  if (mark === null) return;
  const [a, b] = [x(mark.startS), x(mark.endS ?? axis.cursorS ?? mark.startS)];
  context.strokeStyle = tones.accent;
  context.setLineDash([4, 3]);
  bracket(paper, a, b, 5);
  rule(paper, a, 5, a, paper.height);
  rule(paper, b, 5, b, paper.height);
  context.setLineDash([]);
}

/** What of which cue lies at a place of the band; null where there is room for a new one. */
export function cueAt(
  axis: TimeAxis,
  rows: Map<AxisCue, number>,
  width: number,
  px: number,
  py: number,
): CueGrip | null {
  const x = placer(axis.view, width);
  let found: (CueGrip & { off: number }) | null = null;
  for (const [cue, row] of rows) {
    if (py < row * CUE_ROW || py >= (row + 1) * CUE_ROW) continue;
    const [a, b] = [x(cue.startS), x(cue.endS)];
    const parts: { part: CueGrip['part']; off: number }[] = [
      { part: 'start', off: Math.abs(px - a) },
      { part: 'end', off: Math.abs(px - b) },
    ];
    // The edges go before what lies between them.
    const held = parts.filter(({ off }) => off <= GRIP);
    if (px >= a && px <= b) held.push({ part: 'middle', off: GRIP + 1 });
    for (const { part, off } of held) if (found === null || off < found.off) found = { cue, part, off };
  }
  return found && { cue: found.cue, part: found.part };
}

export function same(a: AxisCue, b: AxisCue): boolean {
  return a.file === b.file && a.index === b.index;
}

function placer(view: Span, width: number): (seconds: number) => number {
  return (seconds) => ((seconds - view.from) * width) / (view.to - view.from);
}

function bracket(paper: Paper, a: number, b: number, y: number): void {
  rule(paper, a, y, b, y);
  rule(paper, a, y, a, y + 5);
  rule(paper, b, y, b, y + 5);
}
