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
  /** Lowest and highest value of the cycle; the whole range of the field unless values are skipped. */
  low: number;
  high: number;
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

export function stepsOf(rows: MessageRows, periodS: number | null): Steps {
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
  const whole = counting(values, steps, { step, low: 0, high: 2 ** width - 1, repeats });
  if (whole.wrong === 0 || Math.abs(step) !== 1) return whole;
  let low = Number.POSITIVE_INFINITY;
  let high = 0;
  for (let i = 0; i < values.length; i++) {
    const v = values[i] as number;
    if (v < low) low = v;
    if (v > high) high = v;
  }
  const cycle = high - low + 1;
  const skipped = 2 ** width - cycle;
  if (skipped === 0 || cycle < SHORTEST_CYCLE || skipped > 0.4 * 2 ** width || (width > 8 && skipped > 16)) {
    return whole;
  }
  const short = counting(values, steps, { step, low, high, repeats });
  return short.wrong < whole.wrong ? short : whole;
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
  return { step: 0, low: 0, high: 0, steps, exact: 0, bridged: 0, wrong: steps, rolls: 0, repeats: 1 };
}

/** How many times in a row a value is sent before the next; 1 where that is not regular. */
function repeatsOf(values: Uint32Array, steps: Steps): number {
  const runs: number[] = [];
  let run = 1;
  for (const i of steps.to) {
    if (values[i] === values[i - 1]) run++;
    else {
      runs.push(run);
      run = 1;
    }
  }
  // The first run may have begun before the recording.
  const inside = runs.slice(1).sort((a, b) => a - b);
  const usual = inside[inside.length >> 1] ?? 1;
  if (usual === 1 || usual > MOST_REPEATS) return 1;
  const regular = inside.filter((length) => length === usual).length;
  return regular >= 0.9 * inside.length ? usual : 1;
}

function counting(
  values: Uint32Array,
  steps: Steps,
  model: { step: number; low: number; high: number; repeats: number },
): Fit {
  const { step, low, high, repeats } = model;
  const cycle = high - low + 1;
  const fit: Fit = { ...model, steps: 0, exact: 0, bridged: 0, wrong: 0, rolls: 0 };
  // A sender that stands still, as while it starts, is one wrong step however long it takes.
  let stood = false;
  for (let s = 0; s < steps.to.length; s++) {
    const i = steps.to[s] as number;
    const moved = (values[i] as number) - (values[i - 1] as number);
    const periods = steps.periods[s] as number;
    // After a long gap any value would fit: it says nothing either way.
    if (periods + 1 >= cycle / 2 && periods > 1) continue;
    const stands = moved === 0;
    if (stands && (repeats > 1 || stood)) continue;
    stood = stands;
    fit.steps++;
    const rolled = moved !== 0 && moved > 0 !== step > 0;
    if ((moved - step) % cycle === 0) {
      fit.exact++;
      if (rolled) fit.rolls++;
    } else if (fitsLost(moved, step, cycle, periods)) {
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
