/**
 * Relations between the signals of a capture. Every signal goes onto a common grid once; pairs are screened by short
 * sketches of their courses, and only those that pass are verified at full resolution, each against what series of the same
 * autocorrelation reach by chance at all other shifts.
 */
import type { Capture } from '../../capture/store.ts';
import type { Findings } from '../model.ts';
import { counted } from '../words.ts';
import { agreementOf, type Course, courseOf, dot, spectrum } from './course.ts';
import { delayOf } from './delay.ts';
import type { Spectrum } from './fourier.ts';
import { type Grid, type GridSignal, gridSteps, keyOf, placeOf, type SignalPlace } from './grid.ts';
import { lineOf } from './line.ts';
import type { Relation, Relations } from './model.ts';
import { namesOf } from './names.ts';
import { productsOf } from './products.ts';
import { ratesOf } from './rates.ts';
import { sumsOf } from './sums.ts';

export interface RelateOptions {
  /** Largest delay of a copy, seconds. */
  delayS?: number;
}

/** @throws the reason of `signal` when it is aborted. */
export async function relate(
  capture: Capture,
  findings: Pick<Findings, 'messages'>,
  options: RelateOptions & { onProgress?: (share: number) => void; signal?: AbortSignal } = {},
): Promise<Relations> {
  const steps = relateSteps(capture, findings, options);
  for (;;) {
    options.signal?.throwIfAborted();
    const step = steps.next();
    if (step.done) {
      options.onProgress?.(1);
      return step.value;
    }
    options.onProgress?.(step.value);
    await new Promise((resolve) => setTimeout(resolve, 0));
  }
}

/** Correlation of sketches that lets a pair through, and that a pair must have at full resolution to belong together. */
const SCREEN = 0.6;
const TOGETHER = 0.9;
/** Chance of a relation anywhere in a capture of unrelated signals. */
const CHANCE = 0.01;
/** Changes that both must show: fewer can fall together by accident. */
const LEAST_CHANGES = 4;
/** Pairs that are verified before the caller gets a turn. */
const PAIRS_A_STEP = 8;
/** Share of cells in which a copy agrees. */
const COPIES = 0.97;

/** The same in steps; yields the share that is done. */
export function* relateSteps(
  capture: Capture,
  findings: Pick<Findings, 'messages'>,
  { delayS = 1 }: RelateOptions = {},
): Generator<number, Relations> {
  const laying = gridSteps(capture, findings);
  let laid = laying.next();
  for (; !laid.done; laid = laying.next()) yield 0.2 * laid.value;
  const grid = laid.value;
  const courses: Course[] = [];
  for (const [k, signal] of grid.signals.entries()) {
    const course = signal.changes >= LEAST_CHANGES ? courseOf(grid, signal) : null;
    if (course) courses.push(course);
    if (k % 16 === 15) yield 0.2 + (0.1 * k) / grid.signals.length;
  }
  yield 0.3;
  const spectra = new Map<Course, Spectrum>();
  const spectrumFor = (course: Course) => {
    let known = spectra.get(course);
    if (!known) {
      known = spectrum(course.fast);
      // A spectrum is four times as large as its signal: they are not all kept.
      if (spectra.size > 200) spectra.clear();
      spectra.set(course, known);
    }
    return known;
  };
  const most = Math.max(1, Math.round(delayS / grid.cellS));
  const pairs = (courses.length * (courses.length - 1)) / 2;
  const relations: Relation[] = [];
  const group = new Groups(courses.length);
  let verified = 0;
  for (let i = 0; i < courses.length; i++) {
    const a = courses[i] as Course;
    for (let j = i + 1; j < courses.length; j++) {
      const b = courses[j] as Course;
      if (a.drifts || b.drifts || Math.abs(dot(a.sketch, b.sketch)) < SCREEN) continue;
      if (takeTurns(a.signal, b.signal)) continue;
      // A copy of a copy is known already.
      if (group.of(i) === group.of(j)) continue;
      const found = straight(capture, grid, a, b, {
        most,
        pairs,
        spectra: [spectrumFor(a), spectrumFor(b)],
      });
      // Each such pair takes some hundredths of a second.
      if (++verified % PAIRS_A_STEP === 0) yield 0.3 + (0.4 * i) / courses.length;
      if (!found) continue;
      relations.push(found);
      if (found.kind === 'copy' || found.kind === 'inverse') group.join(i, j);
    }
    yield 0.3 + (0.4 * (i + 1)) / courses.length;
  }
  const heads = headsOf(courses, group);
  const family = familiesOf(courses, relations);
  relations.push(...ratesOf(grid, heads, relations, family));
  yield 0.8;
  relations.push(...sumsOf(grid, heads, family));
  yield 0.9;
  relations.push(...productsOf(grid, heads, relations, family));
  return {
    relations: relations.sort((x, y) => y.probability - x.probability),
    copies: copiesOf(courses, relations),
    names: namesOf(grid, relations),
  };
}

/** Fields of one multiplexed message that are never sent together. */
function takeTurns(a: GridSignal, b: GridSignal): boolean {
  const [x, y] = [a.selectorValue ?? null, b.selectorValue ?? null];
  return x !== null && y !== null && a.bus === b.bus && a.id === b.id && a.extended === b.extended;
}

interface PairFigures {
  most: number;
  pairs: number;
  spectra: [Spectrum, Spectrum];
}

/** A relation by a straight line, or null. */
function straight(
  capture: Capture,
  grid: Grid,
  a: Course,
  b: Course,
  { most, pairs, spectra }: PairFigures,
): Relation | null {
  const { r, shift, chance, effective } = agreementOf(...spectra, grid.cells, most);
  if (Math.abs(r) < TOGETHER * 0.9 || chance * pairs > CHANCE) return null;
  // The finer one stands first: the other follows from it, but not the other way round.
  const forward = resolution(a.signal) >= resolution(b.signal);
  const [x, y] = forward ? [a.signal, b.signal] : [b.signal, a.signal];
  const line = lineOf(x, y, forward ? shift : -shift);
  if (!Number.isFinite(line.factor) || line.factor === 0) return null;
  const flags = x.length === 1 || y.length === 1;
  const copies = line.plain && line.exact >= COPIES && (!flags || Math.abs(r) > 0.97);
  if (!copies && (Math.abs(r) < TOGETHER || flags)) return null;
  const sameMessage = x.bus === y.bus && x.id === y.id && x.extended === y.extended;
  const kind = !copies
    ? 'together'
    : line.factor < 0
      ? 'inverse'
      : sameMessage && Math.abs(line.factor - 1) > 0.02
        ? 'ratio'
        : 'copy';
  const delay = copies
    ? delayOf(
        capture,
        x,
        y,
        line,
        Math.abs(shift) * grid.cellS + Math.max(0.05, 3 * Math.max(x.gapS, y.gapS)),
      )
    : atShift((forward ? shift : -shift) * grid.cellS, Math.max(x.gapS, y.gapS, grid.cellS));
  const changes = Math.min(x.changes, y.changes);
  return {
    kind,
    from: placeOf(x),
    to: placeOf(y),
    with: null,
    factor: line.factor,
    offset: line.offset,
    withFactor: 0,
    delayS: delay.delayS,
    delayLowS: delay.lowS,
    delayHighS: delay.highS,
    r,
    probability: sureness(copies ? line.exact : Math.abs(r), changes, effective),
    evidence: [
      {
        text: copies
          ? `On the line ${lineWords(line)} in ${percent(line.exact)} of the time, over ${counted(changes)} changes.`
          : `Without slow drift they correlate with r = ${r.toFixed(3)}, worth ${counted(effective)} independent values.`,
      },
    ],
  };
}

/** Few changes or few independent values leave room for accident, however close the agreement. */
function sureness(agreement: number, changes: number, effective: number): number {
  const weight = Math.min(changes, 2 * effective);
  return Math.min(0.99, (agreement * (weight + 1)) / (weight + 3));
}

function atShift(delayS: number, slackS: number) {
  return { delayS, lowS: delayS - slackS, highS: delayS + slackS };
}

/** Different values that a signal takes within its own range of movement. */
function resolution({ value, length }: GridSignal): number {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (const v of value) {
    if (v < low) low = v;
    if (v > high) high = v;
  }
  return high - low + length / 1000;
}

/** One course for each group of copies, the finest. */
function headsOf(courses: readonly Course[], group: Groups): Course[] {
  const best = new Map<number, Course>();
  courses.forEach((course, i) => {
    const at = group.of(i);
    const known = best.get(at);
    if (!known || resolution(course.signal) > resolution(known.signal)) best.set(at, course);
  });
  return [...best.values()];
}

/** Name of the family of each signal: those that run together all but exactly, by `keyOf`. */
function familiesOf(courses: readonly Course[], relations: readonly Relation[]): ReadonlyMap<string, string> {
  const index = new Map(courses.map((c, i) => [keyOf(c.signal), i]));
  const group = new Groups(courses.length);
  for (const { from, to, r } of relations)
    if (Math.abs(r) > 0.99) group.join(index.get(keyOf(from)) as number, index.get(keyOf(to)) as number);
  return new Map([...index].map(([key, i]) => [key, String(group.of(i))]));
}

function copiesOf(courses: readonly Course[], relations: readonly Relation[]): SignalPlace[][] {
  const index = new Map(courses.map((c, i) => [keyOf(c.signal), i]));
  const group = new Groups(courses.length);
  for (const { kind, from, to } of relations)
    if (kind === 'copy') group.join(index.get(keyOf(from)) as number, index.get(keyOf(to)) as number);
  const members = new Map<number, Course[]>();
  courses.forEach((course, i) => {
    const at = group.of(i);
    members.set(at, [...(members.get(at) ?? []), course]);
  });
  return [...members.values()]
    .filter((list) => list.length > 1)
    .map((list) =>
      list.sort((a, b) => resolution(b.signal) - resolution(a.signal)).map((c) => placeOf(c.signal)),
    );
}

/** Groups that grow by joining (disjoint sets). */
class Groups {
  #parent: Int32Array;

  constructor(count: number) {
    this.#parent = Int32Array.from({ length: count }, (_, i) => i);
  }

  of(i: number): number {
    let at = i;
    while (this.#parent[at] !== at) at = this.#parent[at] as number;
    return at;
  }

  join(i: number, j: number): void {
    this.#parent[this.of(i)] = this.of(j);
  }
}

function lineWords({ factor, offset }: { factor: number; offset: number }): string {
  const f = Number(factor.toPrecision(5));
  const o = Number(offset.toPrecision(5));
  return `y = ${f === 1 ? '' : `${f} × `}x${o === 0 ? '' : o > 0 ? ` + ${o}` : ` − ${-o}`}`;
}

function percent(share: number): string {
  return `${(100 * share).toFixed(1)} %`;
}
