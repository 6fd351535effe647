/** How well a field counts: its step, the values that it skips, lost frames, and the steps that nothing explains. */
import type { MessageRows } from './rows.ts';

/** A value may be sent this many times in a row before the next. */
export const MOST_REPEATS = 4;
/** A counter that skips values still runs through at least this many; shorter cycles are pages of a selector. */
const SHORTEST_CYCLE = 5;

/** Frames that have a frame before them, and how many periods lie between the two (1 where the message has no period). */
export interface Steps {
  to: Uint32Array;
  periods: Uint32Array;
}

export interface Fit {
  step: number;
  /** Values that are never taken, rising; a step that meets one goes on by another. */
  skip: number[];
  steps: number;
  /** Steps that are exactly one. */
  exact: number;
  /** Steps over lost frames. */
  bridged: number;
  wrong: number;
  /** Times it rolled over as predicted. */
  rolls: number;
  repeats: number;
}

/** Steps among the first frames only. */
export function firstSteps({ to, periods }: Steps, frames: number): Steps {
  let n = 0;
  while (n < to.length && (to[n] as number) < frames) n++;
  return { to: to.subarray(0, n), periods: periods.subarray(0, n) };
}

export function stepsOf(rows: Pick<MessageRows, 'count' | 'time' | 'begins'>, periodS: number | null): Steps {
  const to: number[] = [];
  const periods: number[] = [];
  for (let i = 1; i < rows.count; i++) {
    if (rows.begins[i]) continue;
    const gap = (rows.time[i] as number) - (rows.time[i - 1] as number);
    to.push(i);
    periods.push(periodS === null ? 1 : Math.max(1, Math.round(gap / periodS)));
  }
  return { to: Uint32Array.from(to), periods: Uint32Array.from(periods) };
}

/** Best counting model of one field of the given width; `values`: one per frame. */
export function fitted(values: Uint32Array, width: number, steps: Steps): Fit {
  const { step, share } = commonestStep(values, width, steps);
  if (share < LEAST_COMMON) return notCounting(steps.to.length);
  const repeats = repeatsOf(values, steps);
  const whole = counting(values, steps, { step, skip: [], repeats, cycle: 2 ** width, place: null });
  if (whole.wrong === 0) return whole;
  let best = whole;
  for (const skip of neverTaken(values, width)) {
    const circle = circleOf(width, step, skip);
    if (!circle) continue;
    const short = counting(values, steps, { step, skip, repeats, ...circle });
    if (short.wrong < best.wrong) best = short;
  }
  return best;
}

/** Values that a field never takes, below and above all others, and then with those between, where they are few. */
function neverTaken(values: Uint32Array, width: number): number[][] {
  const size = 2 ** width;
  const seen = new Uint8Array(size);
  for (const v of values) seen[v] = 1;
  const low = seen.indexOf(1);
  const high = seen.lastIndexOf(1);
  const most = width > 8 ? MOST_SKIPPED : Math.min(0.4 * size, size - SHORTEST_CYCLE);
  const ends: number[] = [];
  const between: number[] = [];
  for (let v = 0; v < size; v++) {
    if (seen[v]) continue;
    if (v < low || v > high) ends.push(v);
    else if (between.length <= MOST_SKIPPED_INSIDE) between.push(v);
  }
  const choices = [ends];
  // In a short recording values between may only not have been met.
  const single = between.every((v, k) => k === 0 || v > (between[k - 1] as number) + 1);
  if (between.length > 0 && between.length <= MOST_SKIPPED_INSIDE && single)
    choices.push([...ends, ...between].sort((a, b) => a - b));
  return choices.filter((skip) => skip.length > 0 && skip.length <= most);
}

/** Of a wide field, and one by one between values that are taken: more than that looks like pages, not like a counter. */
const MOST_SKIPPED = 16;
const MOST_SKIPPED_INSIDE = 3;

/** The circle on which a counter runs that steps on over skipped values; null where it does not meet all others. */
function circleOf(width: number, step: number, skip: number[]): { cycle: number; place: Int32Array } | null {
  const size = 2 ** width;
  const place = new Int32Array(size).fill(-1);
  for (const v of skip) place[v] = -2;
  const first = place.indexOf(-1);
  let cycle = 0;
  for (let v = first; place[v] === -1; ) {
    place[v] = cycle++;
    do v = (v + step + size) % size;
    while (place[v] === -2);
  }
  return cycle === size - skip.length ? { cycle, place } : null;
}

/** Commonest nonzero step as a signed number, and its share among them, from up to some 256 steps. */
function commonestStep(values: Uint32Array, width: number, steps: Steps): { step: number; share: number } {
  const size = 2 ** width;
  const counts = stepCounts.fill(0, 0, size);
  let best = 1;
  let most = 0;
  let all = 0;
  const stride = Math.max(1, Math.floor(steps.to.length / 256));
  for (let s = 0; s < steps.to.length; s += stride) {
    const i = steps.to[s] as number;
    const d = ((values[i] as number) - (values[i - 1] as number)) & (size - 1);
    if (d === 0 || (steps.periods[s] as number) > 1) continue;
    all++;
    const count = (counts[d] as number) + 1;
    counts[d] = count;
    if (count > most) {
      most = count;
      best = d;
    }
  }
  return { step: best > size / 2 ? best - size : best, share: all === 0 ? 0 : most / all };
}

const stepCounts = new Uint16Array(2 ** 16);

/** A counter makes its step at least this often, also one that skips values. */
const LEAST_COMMON = 0.5;

function notCounting(steps: number): Fit {
  return { step: 0, skip: [], steps, exact: 0, bridged: 0, wrong: steps, rolls: 0, repeats: 1 };
}

/** How many times in a row a value is sent before the next; 1 where that is not regular. */
function repeatsOf(values: Uint32Array, { to }: Steps): number {
  // Runs by length, those longer than are believed together; the first run may have begun before the recording.
  const runs = new Uint32Array(MOST_REPEATS + 2);
  let all = 0;
  let run = -1;
  for (let s = 0; s < to.length; s++) {
    const i = to[s] as number;
    if (values[i] === values[i - 1]) {
      if (run > 0) run++;
      continue;
    }
    if (run > 0) {
      const length = Math.min(run, MOST_REPEATS + 1);
      runs[length] = (runs[length] as number) + 1;
      all++;
    }
    run = 1;
  }
  let below = 0;
  let usual = 1;
  while (usual <= MOST_REPEATS) {
    below += runs[usual] as number;
    if (below > all >> 1) break;
    usual++;
  }
  if (all === 0 || usual === 1 || usual > MOST_REPEATS) return 1;
  return (runs[usual] as number) >= 0.9 * all ? usual : 1;
}

function counting(
  values: Uint32Array,
  steps: Steps,
  model: {
    step: number;
    skip: number[];
    repeats: number;
    /** Values on the circle, and the place of each on it; null where the values themselves are the places. */
    cycle: number;
    place: Int32Array | null;
  },
): Fit {
  const { step, skip, repeats, cycle, place } = model;
  const unit = place ? 1 : step;
  const fit: Fit = { step, skip, repeats, steps: 0, exact: 0, bridged: 0, wrong: 0, rolls: 0 };
  // A sender that stands still, as while it starts, is one wrong step however long it takes.
  let stood = false;
  for (let s = 0; s < steps.to.length; s++) {
    const i = steps.to[s] as number;
    const [was, is] = [values[i - 1] as number, values[i] as number];
    const moved = place ? (place[is] as number) - (place[was] as number) : is - was;
    const periods = steps.periods[s] as number;
    // After a long gap any value would fit: it says nothing either way.
    if (periods + 1 >= cycle / 2 && periods > 1) continue;
    const stands = moved === 0;
    if (stands && (repeats > 1 || stood)) continue;
    stood = stands;
    fit.steps++;
    const rolled = is !== was && is > was !== step > 0;
    if ((moved - unit) % cycle === 0) {
      fit.exact++;
      if (rolled) fit.rolls++;
    } else if (fitsLost(moved, unit, cycle, periods)) {
      fit.bridged++;
      if (rolled) fit.rolls++;
    } else fit.wrong++;
  }
  return fit;
}

/** Whether some of the frames due in `periods` periods being lost explains the step. */
function fitsLost(moved: number, step: number, cycle: number, periods: number): boolean {
  for (let lost = 2; periods > 1 && lost <= periods + 1; lost++) {
    if ((moved - lost * step) % cycle === 0) return true;
  }
  return false;
}
