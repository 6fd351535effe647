/**
 * Signals of a capture on one common grid of times: each cell holds the last value that was sent up to its end. Read once;
 * pairwise work then never touches frames again.
 */
import { fieldReader, readBits } from '../../can/bits.ts';
import { formatId } from '../../can/frame.ts';
import { groupByMessage, type MessageFrames } from '../../capture/select.ts';
import type { Capture } from '../../capture/store.ts';
import type { FieldKind, Findings, FoundMessage, FoundSignal } from '../model.ts';
import { sessionsOf } from '../rows.ts';

export interface SignalPlace {
  bus: number;
  id: number;
  extended: boolean;
  start: number;
  length: number;
  byteOrder: 'little' | 'big';
  /** Selector value under which the field stands there; absent or null where it always does. */
  selectorValue?: number | null;
}

export interface GridSignal extends SignalPlace {
  signed: FoundSignal['signed'];
  kind: FieldKind;
  /** Raw values by cell, Float64[cells]. */
  value: Float64Array;
  /** Cells whose value differs from the cell before. */
  changes: number;
  /** Usual gap between frames that carry it, seconds. */
  gapS: number;
  /** Frames of the capture that carry it, in recorded order. */
  frames: Uint32Array;
}

export interface Grid {
  cellS: number;
  cells: number;
  /** Stretches without a break: cells from … to, and the time of the first. */
  stretches: { from: number; to: number; startS: number }[];
  signals: GridSignal[];
}

export interface GridOptions {
  /** At most this many cells in all. */
  cells?: number;
  /** No cell shorter than this, seconds. */
  leastCellS?: number;
}

/** Kinds of fields that can stand in a relation. */
const RELATED: ReadonlySet<FieldKind> = new Set(['number', 'enum', 'flag']);

/** More layouts than this are no multiplexor of signals. */
const MOST_LAYOUTS = 8;

/** All numbers, enumerations and flags of the findings that move, on a grid over the whole capture. */
export function gridOf(
  capture: Capture,
  findings: Pick<Findings, 'messages'>,
  options: GridOptions = {},
): Grid {
  const steps = gridSteps(capture, findings, options);
  for (;;) {
    const step = steps.next();
    if (step.done) return step.value;
  }
}

/** The same in steps of a message; yields the share that is done. */
export function* gridSteps(
  capture: Capture,
  findings: Pick<Findings, 'messages'>,
  options: GridOptions = {},
): Generator<number, Grid> {
  const session = sessionsOf(capture);
  const layout = layoutOf(capture, session, options);
  const found = new Map(findings.messages.map((m) => [messageKey(m), m]));
  const signals: GridSignal[] = [];
  const groups = groupByMessage(capture);
  for (const [k, group] of groups.entries()) {
    const message = found.get(messageKey(group));
    if (message) signals.push(...signalsOf(capture, session, layout, group, message));
    yield (k + 1) / groups.length;
  }
  return { ...layout, signals };
}

function signalsOf(
  capture: Capture,
  session: Uint32Array,
  layout: Omit<Grid, 'signals'>,
  group: MessageFrames,
  message: FoundMessage,
): GridSignal[] {
  const layouts = new Set(message.signals.map((s) => s.selectorValue).filter((v) => v !== null)).size;
  // So many layouts are the pieces of a transfer, in which a place holds whatever comes by.
  const pieces = layouts > MOST_LAYOUTS;
  const wanted = message.signals.filter(
    (s) => RELATED.has(s.kind) && s.length <= 32 && !(pieces && s.selectorValue !== null),
  );
  if (wanted.length === 0) return [];
  const { bus, id, extended } = group;
  const whole = group.frames.filter((f) => capture.length[f] === message.length);
  const bySelector = new Map<number | null, { frames: Uint32Array; rows: Int32Array }>();
  const rowsFor = (value: number | null) => {
    const known = bySelector.get(value);
    if (known) return known;
    const { selector } = message;
    const frames =
      value === null || selector === null
        ? whole
        : whole.filter((f) => readBits(capture.payload, capture.offset[f] as number, selector) === value);
    const made = { frames, rows: cellFrames(capture, session, layout, frames) };
    bySelector.set(value, made);
    return made;
  };
  const signals: GridSignal[] = [];
  for (const { start, length, byteOrder, signed, kind, selectorValue } of wanted) {
    const { frames, rows } = rowsFor(selectorValue);
    if (frames.length < 2) continue;
    const read = fieldReader({ start, length, byteOrder, signed });
    const value = new Float64Array(layout.cells);
    let changes = 0;
    for (let c = 0, last = -1; c < layout.cells; c++) {
      const f = rows[c] as number;
      value[c] =
        f === last && c > 0 ? (value[c - 1] as number) : read(capture.payload, capture.offset[f] as number);
      if (c > 0 && value[c] !== value[c - 1]) changes++;
      last = f;
    }
    if (changes === 0) continue;
    const gapS = usualGap(capture, frames);
    signals.push({
      bus,
      id,
      extended,
      start,
      length,
      byteOrder,
      ...(selectorValue === null ? {} : { selectorValue }),
      signed,
      kind,
      value,
      changes,
      gapS,
      frames,
    });
  }
  return signals;
}

/** For each cell the latest frame up to its end; before the first frame of a stretch, that first frame. */
export function cellFrames(
  capture: Capture,
  session: Uint32Array,
  layout: Omit<Grid, 'signals'>,
  frames: Uint32Array,
): Int32Array {
  const rows = new Int32Array(layout.cells).fill(-1);
  for (const f of frames) {
    const stretch = layout.stretches[session[f] as number];
    if (!stretch) continue;
    const cell = stretch.from + Math.floor(((capture.time[f] as number) - stretch.startS) / layout.cellS);
    if (cell >= stretch.from && cell < stretch.to) rows[cell] = f;
  }
  for (const { from, to } of layout.stretches) {
    let held = -1;
    for (let c = from; c < to; c++) {
      if ((rows[c] as number) >= 0) held = rows[c] as number;
      else rows[c] = held;
    }
    let next = -1;
    for (let c = to - 1; c >= from; c--) {
      if ((rows[c] as number) >= 0) next = rows[c] as number;
      else rows[c] = next;
    }
  }
  // A stretch without any frame of the message takes what was sent before, or first of all.
  let held = -1;
  for (const f of rows) {
    if (f >= 0) {
      held = f;
      break;
    }
  }
  for (let c = 0; c < rows.length; c++) {
    if ((rows[c] as number) >= 0) held = rows[c] as number;
    else rows[c] = held;
  }
  return rows;
}

/** Cells over all stretches of a capture; `session` from `sessionsOf`. */
export function layoutOf(
  capture: Capture,
  session: Uint32Array,
  { cells = 16_384, leastCellS = 0.02 }: GridOptions,
): Omit<Grid, 'signals'> {
  const first: number[] = [];
  const last: number[] = [];
  for (let i = 0; i < capture.count; i++) {
    const s = session[i] as number;
    const t = capture.time[i] as number;
    if (!(t >= (first[s] ?? Number.POSITIVE_INFINITY))) first[s] = t;
    if (!(t <= (last[s] ?? Number.NEGATIVE_INFINITY))) last[s] = t;
  }
  const total = first.reduce((sum, t, s) => sum + (last[s] as number) - t, 0);
  const cellS = Math.max(leastCellS, total / Math.max(1, cells - 2 * first.length));
  const stretches: Grid['stretches'] = [];
  let at = 0;
  for (const [s, startS] of first.entries()) {
    const n = Math.floor(((last[s] as number) - startS) / cellS) + 1;
    stretches.push({ from: at, to: at + n, startS });
    at += n;
  }
  return { cellS, cells: at, stretches };
}

function usualGap(capture: Capture, frames: Uint32Array): number {
  const stride = Math.max(1, Math.floor(frames.length / 1000));
  const gaps: number[] = [];
  for (let i = 1; i < frames.length; i += stride) {
    gaps.push(
      (capture.time[frames[i] as number] as number) - (capture.time[frames[i - 1] as number] as number),
    );
  }
  gaps.sort((a, b) => a - b);
  return Math.max(0, gaps[gaps.length >> 1] ?? 0);
}

function messageKey({ bus, id, extended }: { bus: number; id: number; extended: boolean }): string {
  return `${bus}:${extended ? 'x' : ''}${id}`;
}

export function placeOf({
  bus,
  id,
  extended,
  start,
  length,
  byteOrder,
  selectorValue,
}: SignalPlace): SignalPlace {
  const under = selectorValue === null || selectorValue === undefined ? {} : { selectorValue };
  return { bus, id, extended, start, length, byteOrder, ...under };
}

export function keyOf({ bus, id, extended, start, length, byteOrder, selectorValue }: SignalPlace): string {
  return `${bus} ${formatId(id, extended)} ${start} ${length} ${byteOrder} ${selectorValue ?? ''}`;
}
