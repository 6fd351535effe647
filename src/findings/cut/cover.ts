/**
 * Exact covers of a payload by fields in either byte order. Both lanes are walked from byte 0 on; where a byte ends, both
 * have covered the same bits, so the order may change there, at a price. Forward–backward over all covers gives the
 * probability of each field; the decoder takes the cover with the most right fields to be expected.
 */
import { type Lane, MOVES } from './lane.ts';

/** A candidate field as the walk sees it. */
export interface Scored {
  from: number;
  to: number;
  score: number;
}

export interface Posterior {
  /** Probability of each candidate, in the order given, by lane. */
  probability: [Float64Array, Float64Array];
  /** Log odds of the order of the first byte's field being big-endian, without the prior given. */
  bigEndianLogOdds: number;
}

/** Log weight of a change of byte order inside a message. */
const SWITCH = -4;

/** `prior`: log weight of starting little-endian and big-endian. */
export function posterior(
  lanes: readonly [Lane, Lane],
  candidates: readonly [readonly Scored[], readonly Scored[]],
  prior: readonly [number, number],
): Posterior {
  const count = lanes[0].bits.length;
  const walks = [walkOf(lanes[0], candidates[0]), walkOf(lanes[1], candidates[1])] as const;
  const forward = [filled(count + 1), filled(count + 1)] as const;
  const entered = [filled(count + 1), filled(count + 1)] as const;
  forward[0][0] = prior[0];
  forward[1][0] = prior[1];
  for (let p = 0; p <= count; p++) {
    if (p % 8 === 0 && p > 0 && p < count) switchOver(forward, p);
    for (const o of [0, 1] as const) {
      const at = forward[o][p] as number;
      entered[o][p] = at;
      if (p === count || at === Number.NEGATIVE_INFINITY) continue;
      if (walks[o].passable[p]) forward[o][p + 1] = logSum(forward[o][p + 1] as number, at);
      for (const step of walks[o].steps[p] as Step[]) {
        forward[o][step.end] = logSum(forward[o][step.end] as number, at + step.score);
      }
    }
  }
  const total = logSum(forward[0][count] as number, forward[1][count] as number);
  const backward = [filled(count + 1), filled(count + 1)] as const;
  backward[0][count] = 0;
  backward[1][count] = 0;
  for (let p = count - 1; p >= 0; p--) {
    for (const o of [0, 1] as const) {
      let sum = walks[o].passable[p] ? (backward[o][p + 1] as number) : Number.NEGATIVE_INFINITY;
      for (const step of walks[o].steps[p] as Step[]) {
        sum = logSum(sum, step.score + (backward[o][step.end] as number));
      }
      backward[o][p] = sum;
    }
    // Backward values stand before the switch at a byte edge, forward ones after it.
    if (p % 8 === 0 && p > 0) switchOver(backward, p);
  }
  const probability: [Float64Array, Float64Array] = [
    new Float64Array(candidates[0].length),
    new Float64Array(candidates[1].length),
  ];
  for (const o of [0, 1] as const) {
    for (let p = 0; p < count; p++) {
      for (const step of walks[o].steps[p] as Step[]) {
        const log = (entered[o][p] as number) + step.score + (backward[o][step.end] as number) - total;
        probability[o][step.index] = Math.exp(log);
      }
    }
  }
  return { probability, bigEndianLogOdds: (backward[1][0] as number) - (backward[0][0] as number) };
}

/** The cover with the greatest sum of values; returns indices of its candidates by lane. */
export function bestCover(
  lanes: readonly [Lane, Lane],
  candidates: readonly [readonly Scored[], readonly Scored[]],
  switchCost: number,
  prior: readonly [number, number] = [0, 0],
): { lane: 0 | 1; index: number }[] {
  const count = lanes[0].bits.length;
  const walks = [walkOf(lanes[0], candidates[0]), walkOf(lanes[1], candidates[1])] as const;
  const value = [filled(count + 1), filled(count + 1)] as const;
  /** How each position was reached: −1 by passing, −2 by switching lanes, else the candidate. */
  const reached = [new Int32Array(count + 1).fill(-1), new Int32Array(count + 1).fill(-1)] as const;
  const switched = [new Uint8Array(count + 1), new Uint8Array(count + 1)] as const;
  value[0][0] = prior[0];
  value[1][0] = prior[1];
  for (let p = 0; p < count; p++) {
    if (p % 8 === 0 && p > 0) {
      const [a, b] = [value[0][p] as number, value[1][p] as number];
      if (b + switchCost > a) {
        value[0][p] = b + switchCost;
        switched[0][p] = 1;
      }
      if (a + switchCost > b) {
        value[1][p] = a + switchCost;
        switched[1][p] = 1;
      }
    }
    for (const o of [0, 1] as const) {
      const at = value[o][p] as number;
      if (walks[o].passable[p] && at > (value[o][p + 1] as number)) {
        value[o][p + 1] = at;
        reached[o][p + 1] = -1;
      }
      for (const step of walks[o].steps[p] as Step[]) {
        if (at + step.score <= (value[o][step.end] as number)) continue;
        value[o][step.end] = at + step.score;
        reached[o][step.end] = step.index;
      }
    }
  }
  const chosen: { lane: 0 | 1; index: number }[] = [];
  let lane: 0 | 1 = (value[1][count] as number) > (value[0][count] as number) ? 1 : 0;
  for (let p = count; p > 0; ) {
    // A switch happened before the steps that leave p, so it is undone first when p is reached from above.
    if (p < count && switched[lane][p]) lane = lane === 0 ? 1 : 0;
    const index = reached[lane][p] as number;
    if (index < 0) {
      p--;
      continue;
    }
    chosen.push({ lane, index });
    const { from, to } = candidates[lane][index] as Scored;
    p -= to - from + 1;
  }
  return chosen.reverse();
}

interface Step {
  index: number;
  end: number;
  score: number;
}

/** The candidates of a lane by where the walk from byte 0 enters them. */
function walkOf(lane: Lane, candidates: readonly Scored[]): { steps: Step[][]; passable: Uint8Array } {
  const count = lane.bits.length;
  const steps: Step[][] = Array.from({ length: count }, () => []);
  const passable = new Uint8Array(count);
  for (let k = 0; k < count; k++) {
    const p = lane.order === 'little' ? k : count - 1 - k;
    passable[p] = lane.state[k] === MOVES ? 0 : 1;
  }
  candidates.forEach(({ from, to, score }, index) => {
    const enter = lane.order === 'little' ? from : count - 1 - to;
    (steps[enter] as Step[]).push({ index, end: enter + to - from + 1, score });
  });
  return { steps, passable };
}

function switchOver(values: readonly [Float64Array, Float64Array], p: number): void {
  const [a, b] = [values[0][p] as number, values[1][p] as number];
  values[0][p] = logSum(a, b + SWITCH);
  values[1][p] = logSum(b, a + SWITCH);
}

function filled(size: number): Float64Array {
  return new Float64Array(size).fill(Number.NEGATIVE_INFINITY);
}

function logSum(a: number, b: number): number {
  if (a === Number.NEGATIVE_INFINITY) return b;
  if (b === Number.NEGATIVE_INFINITY) return a;
  return a > b ? a + Math.log1p(Math.exp(b - a)) : b + Math.log1p(Math.exp(a - b));
}
