/** What a hand does on the drawing of the stretch: keys, wheel and pointer, turned into moves of the axis. */
import type { AxisCue, TimeAxis } from './axis.ts';
import { bandHeight } from './drawAxis.ts';
import { cueAt, same } from './drawCues.ts';
import { firstAt } from './drawRate.ts';
import { widthOf } from './span.ts';

export interface HandActions {
  rows: () => Map<AxisCue, number>;
  /** A stretch was marked from end to end. */
  marked: () => void;
  /** An edge was let go at its new place. */
  edgeMoved: (cue: AxisCue) => void;
}

/** Moves this small are a click, pixels. */
const STILL = 3;

export function onKey(event: KeyboardEvent, axis: TimeAxis, { marked }: HandActions): void {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const width = widthOf(axis.view);
  const cursor = axis.cursorS ?? (axis.view.from + axis.view.to) / 2;
  const { shiftKey } = event;
  switch (event.key) {
    case 'ArrowLeft':
    case 'ArrowRight': {
      const way = event.key === 'ArrowLeft' ? -1 : 1;
      if (shiftKey) axis.point(cursor + (way * width) / 100);
      else axis.pan(way * 0.1);
      break;
    }
    case 'PageUp':
      axis.pan(-0.9);
      break;
    case 'PageDown':
      axis.pan(0.9);
      break;
    case '+':
    case '=':
    case 'ArrowUp':
      axis.zoom(0.5);
      break;
    case '-':
    case '_':
    case 'ArrowDown':
      axis.zoom(2);
      break;
    case '0':
      axis.show(axis.bounds);
      break;
    case 'Home':
      axis.point(axis.bounds.from);
      break;
    case 'End':
      axis.point(axis.bounds.to);
      break;
    case 'n':
    case 'p':
      toFrame(axis, cursor, event.key === 'n' ? 1 : -1);
      break;
    case '[':
      axis.mark = { startS: cursor, endS: null };
      axis.cursorS = cursor;
      axis.changed();
      break;
    case ']':
      if (axis.mark !== null) {
        axis.mark = { ...axis.mark, endS: cursor };
        axis.changed();
        marked();
      }
      break;
    case 'Escape':
      axis.mark = null;
      axis.chosen = null;
      axis.changed();
      break;
    default:
      return;
  }
  event.preventDefault();
}

/** The next or last frame of any bus; only where single frames are seen. */
function toFrame(axis: TimeAxis, cursor: number, way: 1 | -1): void {
  const time = axis.overview.best(axis.view)?.columns['time'];
  if (!time) return;
  const at = way > 0 ? firstAt(time, cursor, 'after') : firstAt(time, cursor) - 1;
  const to = time[at];
  if (to !== undefined) axis.point(to);
}

export function onWheel(event: WheelEvent, axis: TimeAxis): void {
  event.preventDefault();
  // A line or a page of a wheel that counts so is taken for as many pixels.
  const unit = event.deltaMode === 1 ? 16 : event.deltaMode === 2 ? 400 : 1;
  const [dx, dy] = [event.deltaX * unit, event.deltaY * unit];
  if (event.shiftKey || Math.abs(dx) > Math.abs(dy)) axis.pan((dx || dy) / axis.width);
  else axis.zoom(Math.exp(Math.min(1, Math.max(-1, dy / 300))), timeAt(event, axis));
}

/** One press of the pointer, until it is let go. In the band of cues it moves edges and marks; below, it moves the sheet. */
export function onPress(event: PointerEvent, axis: TimeAxis, { rows, marked, edgeMoved }: HandActions): void {
  if (event.button !== 0) return;
  const target = event.currentTarget as HTMLElement;
  const { left, top } = target.getBoundingClientRect();
  const [x0, y0] = [event.clientX - left, event.clientY - top];
  const inBand = y0 < bandHeight(rows());
  const held = inBand ? cueAt(axis, rows(), axis.width, x0, y0) : null;
  const begunAt = timeAt(event, axis);
  let last = event.clientX;
  let far = false;
  const move = (to: PointerEvent) => {
    if (!far && Math.abs(to.clientX - event.clientX) < STILL) return;
    far = true;
    const now = timeAt(to, axis);
    if (!inBand) axis.pan((last - to.clientX) / axis.width);
    else if (held && held.part !== 'middle' && held.cue.file !== '')
      axis.moving = { ...held.cue, [held.part === 'start' ? 'startS' : 'endS']: now };
    else if (!held) axis.mark = { startS: Math.min(begunAt, now), endS: Math.max(begunAt, now) };
    last = to.clientX;
    axis.changed();
  };
  const done = (way: 'let go' | 'taken away') => {
    target.removeEventListener('pointermove', move);
    target.removeEventListener('pointerup', up);
    target.removeEventListener('pointercancel', cancel);
    const moved = axis.moving;
    if (way === 'taken away') axis.moving = null;
    else if (!far && held) axis.chosen = axis.chosen && same(axis.chosen, held.cue) ? null : held.cue;
    else if (!far) axis.point(begunAt);
    else if (moved) edgeMoved(moved);
    else if (inBand && !held) marked();
    axis.changed();
  };
  const up = () => done('let go');
  const cancel = () => done('taken away');
  target.setPointerCapture(event.pointerId);
  target.addEventListener('pointermove', move);
  target.addEventListener('pointerup', up);
  target.addEventListener('pointercancel', cancel);
}

/** On the strip: the stretch goes to where the pointer is, and with it. */
export function onStrip(event: PointerEvent, axis: TimeAxis): void {
  if (event.button !== 0) return;
  const target = event.currentTarget as HTMLElement;
  const go = (to: PointerEvent) => {
    const { left } = target.getBoundingClientRect();
    const middle = axis.bounds.from + ((to.clientX - left) / axis.width) * widthOf(axis.bounds);
    const half = widthOf(axis.view) / 2;
    axis.show({ from: middle - half, to: middle + half });
  };
  const done = () => {
    target.removeEventListener('pointermove', go);
    target.removeEventListener('pointerup', done);
    target.removeEventListener('pointercancel', done);
  };
  target.setPointerCapture(event.pointerId);
  target.addEventListener('pointermove', go);
  target.addEventListener('pointerup', done);
  target.addEventListener('pointercancel', done);
  go(event);
}

function timeAt(event: MouseEvent, axis: TimeAxis): number {
  const { left } = (event.currentTarget as HTMLElement).getBoundingClientRect();
  return axis.view.from + ((event.clientX - left) / axis.width) * widthOf(axis.view);
}
