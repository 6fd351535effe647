/** Period, jitter and losses of one message from its stamps, and the sign of two rhythms under one identifier. */

export interface Rhythm {
  periodS: number | null;
  jitterS: number | null;
  leastS: number | null;
  greatestS: number | null;
  /** Frames missing by gaps of two periods or more outside the gaps of the bus; null where not periodic. */
  lost: number | null;
}

/** `time`: stamps of the message; `across[k]`: 1 where a gap of the whole bus lies before frame k. */
export function rhythmOf(time: Float64Array, across: Uint8Array): Rhythm {
  const gaps = gapsOf(time, across);
  if (gaps.length === 0) return { periodS: null, jitterS: null, leastS: null, greatestS: null, lost: null };
  let leastS = Number.POSITIVE_INFINITY;
  let greatestS = 0;
  for (const gap of gaps) {
    if (gap < leastS) leastS = gap;
    if (gap > greatestS) greatestS = gap;
  }
  if (gaps.length < FEWEST_GAPS) return { periodS: null, jitterS: null, leastS, greatestS, lost: null };
  const sample = sampled(gaps);
  const periodS = median(sample);
  const jitterS = 1.4826 * median(sample.map((gap) => Math.abs(gap - periodS)));
  let near = 0;
  let lost = 0;
  for (const gap of gaps) {
    const periods = Math.round(gap / periodS);
    if (periods >= 1 && periods <= 3 && Math.abs(gap - periods * periodS) < 0.3 * periodS) near++;
    if (periods >= 2) lost += periods - 1;
  }
  const periodic = periodS > 0 && near >= 0.8 * gaps.length;
  const steady = periodic && jitterS < 0.15 * periodS;
  const told = steady && lost <= MOST_LOST * time.length;
  return { periodS: periodic ? periodS : null, jitterS, leastS, greatestS, lost: told ? lost : null };
}

/**
 * Blocks of frames in which long and short gaps take turns, where that is a sign of two senders: the phase between them
 * moves (two clocks), or elsewhere the same message comes at half the rate. A sender that sends twice a period does neither.
 */
export function twoRhythms(time: Float64Array, across: Uint8Array): [number, number][] {
  const found: { at: [number, number]; phase: number; period: number }[] = [];
  const plain: number[] = [];
  const gap = new Float64Array(BLOCK);
  for (let from = 0; from + BLOCK < time.length; from += BLOCK) {
    let usable = true;
    let uneven = 0;
    for (let k = 0; k < BLOCK; k++) {
      const g = (time[from + k + 1] as number) - (time[from + k] as number);
      gap[k] = g;
      if (g < 0 || across[from + k + 1] === 1) usable = false;
      if (k > 0) uneven += Math.abs(g - (gap[k - 1] as number));
    }
    const mean = ((time[from + BLOCK] as number) - (time[from] as number)) / BLOCK;
    if (!usable || mean <= 0) continue;
    // Most blocks of most messages are even, and need no closer look.
    if (uneven / (BLOCK - 1) < 0.1 * mean) {
      plain.push(mean);
      continue;
    }
    const whole = median(gap.subarray(1).map((g, k) => g + gap[k]!));
    const toNext = median(gap.subarray(1).map((g, k) => Math.abs(g - gap[k]!)));
    const toOther = median(gap.subarray(2).map((g, k) => Math.abs(g - gap[k]!)));
    if (whole <= 0) continue;
    if (toNext > 0.1 * whole && toOther < 0.05 * whole && toOther < toNext / 4) {
      const even = median(gap.filter((_, k) => k % 2 === 0)) / whole;
      found.push({ at: [from, from + BLOCK], phase: Math.min(even, 1 - even), period: whole });
    } else if (toNext < 0.1 * whole) plain.push(whole / 2);
  }
  if (found.length < FEWEST_BLOCKS) return [];
  const moves = shifts(Float64Array.from(found, (f) => f.phase));
  const period = median(Float64Array.from(found, (f) => f.period));
  const alone = plain.filter((single) => Math.abs(single - period) < 0.05 * period).length;
  return moves || alone >= FEWEST_BLOCKS ? found.map((f) => f.at) : [];
}

/** Whether a phase moves as two clocks make it move: much over all blocks, little from one to the next, without a jump. */
function shifts(phases: Float64Array): boolean {
  const range = phases.reduce((a, b) => Math.max(a, b), 0) - phases.reduce((a, b) => Math.min(a, b), 1);
  const steps = phases.subarray(1).map((p, k) => Math.abs(p - (phases[k] as number)));
  const jump = steps.reduce((a, b) => Math.max(a, b), 0);
  return range > PHASE_MOVES && median(steps) < range / 6 && jump < range / 2;
}

const FEWEST_GAPS = 5;
const BLOCK = 16;
const FEWEST_BLOCKS = 3;
/** Share of the period by which the phase must move over the recording. */
const PHASE_MOVES = 0.05;
/** More frames than this share of those seen are not lost but paused. */
const MOST_LOST = 0.25;

function gapsOf(time: Float64Array, across: Uint8Array): Float64Array {
  const gaps = new Float64Array(Math.max(0, time.length - 1));
  let n = 0;
  for (let k = 1; k < time.length; k++) {
    const gap = (time[k] as number) - (time[k - 1] as number);
    if (!across[k] && gap >= 0) gaps[n++] = gap;
  }
  return gaps.subarray(0, n);
}

/** At most some 5,000 of them, evenly over the recording: enough for a median. */
function sampled(values: Float64Array): Float64Array {
  const stride = Math.max(1, Math.floor(values.length / 5000));
  if (stride === 1) return values;
  const some = new Float64Array(Math.ceil(values.length / stride));
  for (let k = 0; k < some.length; k++) some[k] = values[k * stride] as number;
  return some;
}

export function median(values: Float64Array): number {
  const sorted = values.slice().sort();
  return sorted[sorted.length >> 1] ?? Number.NaN;
}
