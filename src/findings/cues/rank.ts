/**
 * Ranks signals, and single bits, by how closely they follow what a person did in the windows of a cue sheet and nowhere
 * else, over all recordings of one car. What is too little to tell apart from chance is said to be.
 */
import { fieldBits, fieldReader, readBits } from '../../can/bits.ts';
import { groupByMessage, type MessageFrames } from '../../capture/select.ts';
import { timeSpan } from '../../capture/span.ts';
import type { Capture } from '../../capture/store.ts';
import type { Findings, FoundMessage, FoundSignal } from '../model.ts';
import { cellFrames, type Grid, layoutOf, type SignalPlace } from '../relations/grid.ts';
import { ranksOf } from '../relations/statistics.ts';
import { enough } from './enough.ts';
import type { CueCandidate, CuedRecording, CueFinding } from './model.ts';
import { type Pattern, patternsOf } from './patterns.ts';
import { agreementAt, type CellWindow, type Design, designOf, type Prepared, prepare } from './shuffle.ts';
import { sentence } from './words.ts';

export interface CueOptions {
  /** Shuffled sheets to compare with. */
  draws?: number;
  seed?: number;
  /** Seconds that a signal may follow the noted times; it may also come `earlyS` before them. */
  lagS?: number;
  earlyS?: number;
  /** Candidates to keep of each cue. */
  keep?: number;
}

/** Cells over all recordings together, and the shortest cell in seconds. */
const CELLS = 20_000;
const LEAST_CELL_S = 0.05;
/** Surroundings of a window, seconds on either side. */
const NEAR_S = 5;

/** All cues of the sheets, each with its candidates. @throws the reason of `signal` when it is aborted. */
export async function rankCues(
  recordings: readonly CuedRecording[],
  findings: Pick<Findings, 'messages'>,
  options: CueOptions & { onProgress?: (share: number) => void; signal?: AbortSignal } = {},
): Promise<CueFinding[]> {
  const steps = cueSteps(recordings, findings, options);
  for (;;) {
    options.signal?.throwIfAborted();
    const step = steps.next();
    if (step.done) return step.value;
    options.onProgress?.(step.value);
    await new Promise((resolve) => setTimeout(resolve, 0));
  }
}

/** The same in steps; yields the share that is done. */
export function* cueSteps(
  recordings: readonly CuedRecording[],
  findings: Pick<Findings, 'messages'>,
  options: CueOptions = {},
): Generator<number, CueFinding[]> {
  const { draws = 499, seed = 1, lagS = 1.5, earlyS = 0.5, keep = 10 } = options;
  const spans = recordings.map(({ capture }) => timeSpan(capture.time));
  const cellS = Math.max(LEAST_CELL_S, spans.reduce((sum, s) => sum + s.seconds, 0) / CELLS);
  const step = Math.max(1, Math.round(0.25 / cellS));
  const lags: number[] = [];
  for (let l = -Math.floor(earlyS / cellS / step); l * step * cellS <= lagS; l++) lags.push(l * step);
  const layouts = recordings.map(({ capture }) =>
    layoutOf(capture, new Uint32Array(capture.count), { cells: Number.POSITIVE_INFINITY, leastCellS: cellS }),
  );
  const works = patternsOf(recordings.map((r) => r.cues)).map((pattern, k): Work => {
    const windows = pattern.windows.map((list) => list.map((w) => inCells(w, cellS)));
    const near = Math.round(NEAR_S / cellS);
    const figures = { draws, seed: seed + 7919 * k, lags: Int32Array.from(lags), near };
    const cells = layouts.map((l) => l.cells);
    const levels = pattern.graded === 'levels' ? [windows, windows.map((list) => list.map(flat))] : [windows];
    const designs = levels.flatMap((list) => designOf(list, cells, figures) ?? []);
    return { pattern, designs, best: new Float64Array(draws + 1), entries: [] };
  });
  const groups = recordings.map(({ capture }) => new Map(groupByMessage(capture).map((g) => [keyOf(g), g])));
  let done = 0;
  for (const message of findings.messages) {
    const byLayout = new Map<number | null, (Rows | null)[]>();
    const rowsUnder = (selectorValue: number | null) => {
      const known = byLayout.get(selectorValue);
      if (known) return known;
      const rows = recordings.map(({ capture }, r) => {
        const group = groups[r]?.get(keyOf(message));
        return group
          ? rowsOf(capture, layouts[r] as Omit<Grid, 'signals'>, group, { message, selectorValue })
          : null;
      });
      byLayout.set(selectorValue, rows);
      return rows;
    };
    for (const field of message.signals) {
      if (field.kind === 'counter' || field.kind === 'check' || field.kind === 'selector') continue;
      const features = featuresOf(message, field, recordings, rowsUnder(field.selectorValue ?? null));
      if (features.length > 0) for (const work of works) weigh(work, message, features);
    }
    yield ++done / findings.messages.length;
  }
  return works.map((work) => finished(work, { cellS, lags, keep }));
}

interface Work {
  pattern: Pattern;
  /** With the levels, and with windows of level 1. */
  designs: Design[];
  /** The closest agreement of any signal in each draw. */
  best: Float64Array;
  entries: Entry[];
}

interface Entry {
  place: SignalPlace;
  feature: Feature;
  r: number;
  lag: number;
  alone: Float64Array;
  effect: { inside: number; outside: number; opposite: number | null };
}

interface Feature {
  place: Omit<SignalPlace, 'bus' | 'id' | 'extended'>;
  by: 'value' | 'moves';
  /** What is compared, by recording: values or their ranks, or 0 and 1. */
  series: (Float64Array | null)[];
  /** The values themselves, for words. */
  raw: (Float64Array | null)[];
}

interface Rows {
  /** Frame in each cell. */
  cell: Int32Array;
  frames: Uint32Array;
  /** Cell of each frame. */
  cellOf: Int32Array;
}

function rowsOf(
  capture: Capture,
  layout: Omit<Grid, 'signals'>,
  group: MessageFrames,
  { message, selectorValue }: { message: FoundMessage; selectorValue: number | null },
): Rows | null {
  const { selector } = message;
  const frames = group.frames.filter(
    (f) =>
      capture.length[f] === message.length &&
      (selector === null ||
        selectorValue === null ||
        readBits(capture.payload, capture.offset[f] as number, selector) === selectorValue),
  );
  if (frames.length === 0) return null;
  const startS = layout.stretches[0]?.startS ?? 0;
  const cell = cellFrames(capture, new Uint32Array(capture.count), layout, frames);
  const cellOf = Int32Array.from(frames, (f) =>
    Math.floor(((capture.time[f] as number) - startS) / layout.cellS),
  );
  return { cell, frames, cellOf };
}

/** The field as a whole, whether it moves, and its single bits. */
function featuresOf(
  message: FoundMessage,
  field: FoundSignal,
  recordings: readonly CuedRecording[],
  rows: readonly (Rows | null)[],
): Feature[] {
  const { start, length, byteOrder, signed } = field;
  const features: Feature[] = [];
  const under = field.selectorValue === null ? {} : { selectorValue: field.selectorValue };
  // What stood still in all frames cannot follow anything; bits are looked at in any field, constants of the cut included.
  const bits = fieldBits(field).filter((bit) => (message.flipRate[bit] ?? 0) > 0 || rows.length > 1);
  if (field.kind !== 'constant') {
    const raw = read(recordings, rows, { start, length, byteOrder, signed });
    const place = { start, length, byteOrder, ...under };
    add(features, { place, by: 'value', series: raw, raw });
    // Values tell more where noise is small beside what is done, ranks where the scale is bent or values are wild.
    if (length > 2) add(features, { place, by: 'value', series: ranked(raw), raw });
    add(features, { place, by: 'moves', series: moving(recordings, rows, field), raw });
  }
  if (length > 1) {
    for (const bit of bits) {
      const raw = read(recordings, rows, { start: bit, length: 1, byteOrder: 'little', signed: false });
      add(features, {
        place: { start: bit, length: 1, byteOrder: 'little', ...under },
        by: 'value',
        series: raw,
        raw,
      });
    }
  }
  return features;
}

function add(features: Feature[], feature: Feature): void {
  let first = Number.NaN;
  for (const x of feature.series) {
    if (!x || x.length === 0) continue;
    if (Number.isNaN(first)) first = x[0] as number;
    if (x.some((v) => v !== first)) {
      features.push(feature);
      return;
    }
  }
}

type Field = Pick<FoundSignal, 'start' | 'length' | 'byteOrder' | 'signed'>;

function read(recordings: readonly CuedRecording[], rows: readonly (Rows | null)[], field: Field) {
  const value = fieldReader(field);
  return rows.map((one, r) => {
    if (!one) return null;
    const { payload, offset } = (recordings[r] as CuedRecording).capture;
    const out = new Float64Array(one.cell.length);
    for (let c = 0; c < out.length; c++) out[c] = value(payload, offset[one.cell[c] as number] as number);
    return out;
  });
}

/** 1 in cells in which the value changed from one frame to the next. */
function moving(recordings: readonly CuedRecording[], rows: readonly (Rows | null)[], field: Field) {
  const value = fieldReader(field);
  return rows.map((one, r) => {
    if (!one) return null;
    const { payload, offset } = (recordings[r] as CuedRecording).capture;
    const out = new Float64Array(one.cell.length);
    let before = value(payload, offset[one.frames[0] as number] as number);
    for (let i = 1; i < one.frames.length; i++) {
      const now = value(payload, offset[one.frames[i] as number] as number);
      if (now !== before) out[one.cellOf[i] as number] = 1;
      before = now;
    }
    return out;
  });
}

/** Mid-ranks over all recordings together, as shares. */
function ranked(raw: readonly (Float64Array | null)[]): (Float64Array | null)[] {
  const all = new Float64Array(raw.reduce((sum, x) => sum + (x?.length ?? 0), 0));
  let at = 0;
  for (const x of raw) {
    if (!x) continue;
    all.set(x, at);
    at += x.length;
  }
  const ranks = ranksOf(all);
  at = 0;
  return raw.map((x) => {
    if (!x) return null;
    const part = ranks.slice(at, at + x.length);
    at += x.length;
    return part.map((v) => v / all.length);
  });
}

/** Keeps the feature of a field that follows the pattern most closely; a bit must do clearly better than the whole field. */
function weigh(work: Work, message: FoundMessage, features: readonly Feature[]): void {
  const alone = new Float64Array(work.best.length);
  let kept: { feature: Feature; r: number; lag: number; score: number } | null = null;
  for (const feature of features) {
    for (const design of work.designs) {
      const prepared: Prepared | null = prepare(design, feature.series);
      if (!prepared) continue;
      for (let d = 0; d < alone.length; d++) {
        const { r, lag } = agreementAt(design, prepared, d);
        const size = Math.abs(r);
        if (size > (alone[d] as number)) alone[d] = size;
        if (d > 0) continue;
        const score = size - (kept && feature.place.length < kept.feature.place.length ? CLEARLY : 0);
        if (!kept || score > kept.score) kept = { feature, r, lag, score: size };
      }
    }
  }
  if (!kept) return;
  for (let d = 0; d < alone.length; d++) {
    if ((alone[d] as number) > (work.best[d] as number)) work.best[d] = alone[d] as number;
  }
  const { bus, id, extended } = message;
  const place = { bus, id, extended, ...kept.feature.place };
  const effect = effectOf(work, kept.feature, kept.lag);
  work.entries.push({ place, feature: kept.feature, r: kept.r, lag: kept.lag, alone, effect });
  // Only the best matter: others would hold their series in memory.
  if (work.entries.length > 200) {
    work.entries.sort(byAgreement);
    work.entries.length = 50;
  }
}

const CLEARLY = 0.05;

/** Mean of the values, as a share of their range, inside and outside the windows. */
function effectOf({ designs }: Work, feature: Feature, lag: number): Entry['effect'] {
  const sums = [0, 0, 0];
  const counts = [0, 0, 0];
  const series = feature.by === 'moves' ? feature.series : feature.raw;
  const design = designs[0] as Design;
  const shift = design.lags[lag] ?? 0;
  const take = (x: Float64Array, levelAt: (c: number) => number) => {
    for (let c = 0; c < x.length; c++) {
      const k = Math.sign(levelAt(c)) + 1;
      sums[k] = (sums[k] as number) + (x[c] as number);
      counts[k] = (counts[k] as number) + 1;
    }
  };
  for (const { recording, cells, windows } of design.parts) {
    const x = series[recording];
    if (!x) continue;
    const y = new Float64Array(cells);
    for (const w of windows)
      for (let c = w.from + shift; c < w.to + shift; c++) if (c >= 0 && c < cells) y[c] = w.level;
    take(x, (c) => y[c] as number);
  }
  for (const { recording, level } of design.wholes) {
    const x = series[recording];
    if (x) take(x, () => level);
  }
  const [minus, outside, inside] = sums.map((sum, k) => sum / Math.max(1, counts[k] as number));
  return {
    inside: inside as number,
    outside: outside as number,
    opposite: (counts[0] as number) > 0 ? (minus as number) : null,
  };
}

/** Closest first; among equally close ones those that change most plainly, then the smaller field. */
function byAgreement(a: Entry, b: Entry): number {
  const plain = (e: Entry) =>
    e.place.length === 1 || e.feature.by === 'moves' ? Math.abs(e.effect.inside - e.effect.outside) : 0.9;
  const near = (e: Entry) => Math.round(100 * Math.abs(e.r));
  return (
    near(b) - near(a) ||
    plain(b) - plain(a) ||
    a.place.length - b.place.length ||
    Math.abs(b.r) - Math.abs(a.r) ||
    a.place.bus - b.place.bus ||
    a.place.id - b.place.id ||
    a.place.start - b.place.start
  );
}

function finished(
  work: Work,
  { cellS, lags, keep }: { cellS: number; lags: number[]; keep: number },
): CueFinding {
  const { pattern, entries, best, designs } = work;
  entries.sort(byAgreement);
  const repeats = pattern.windows.reduce((sum, list) => sum + list.length, 0);
  const candidates = entries.slice(0, keep).map((entry, k): CueCandidate => {
    const draws = best.length;
    const size = Math.abs(entry.r) - 1e-9;
    const share = (all: Float64Array) => all.reduce((n, r) => n + (r >= size ? 1 : 0), 0) / draws;
    const lagS = designs[0]?.parts.length ? Math.round(1000 * (lags[entry.lag] as number) * cellS) / 1000 : 0;
    return {
      ...entry.place,
      rank: k + 1,
      pValue: share(best),
      pAlone: share(entry.alone),
      agreement: Math.round(1000 * entry.r) / 1000,
      by: entry.feature.by,
      lagS,
      evidence: [{ text: sentence(pattern, entry.feature, entry.effect, { repeats, lagS }) }],
    };
  });
  return {
    name: pattern.name,
    repeats,
    candidates,
    ...enough(pattern, candidates[0] ?? null, designs.length > 0),
  };
}

function inCells(
  { startS, endS, level }: { startS: number; endS: number; level: number },
  cellS: number,
): CellWindow {
  const from = Math.round(startS / cellS);
  return { from, to: Math.max(from + 1, Math.round(endS / cellS)), level };
}

function flat(w: CellWindow): CellWindow {
  return { ...w, level: Math.sign(w.level) || 1 };
}

function keyOf({ bus, id, extended }: { bus: number; id: number; extended: boolean }): string {
  return `${bus}:${extended ? 'x' : ''}${id}`;
}
