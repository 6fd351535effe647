/**
 * All covers of one message as a graph over typed arrays, for training: the probability of every candidate under scores,
 * over all covers and over those that agree with the truth (the same walk as src/findings/cut/cover.ts, without objects).
 */
import type { Candidate } from '../../src/findings/cut/candidates.ts';
import { type Lane, MOVES } from '../../src/findings/cut/lane.ts';

/** Log weight of a change of byte order, as in cover.ts. */
const SWITCH = -4;

export interface Chain {
  positions: number;
  candidates: number;
  /** By candidate, first all of lane 0, then all of lane 1: lane, where the walk enters and leaves. */
  lane: Uint8Array;
  enter: Uint16Array;
  leave: Uint16Array;
  /** Candidates by where they enter. */
  order: Uint32Array;
  passable: [Uint8Array, Uint8Array];
  /** 1 for candidates that agree with the truth. */
  agrees: Uint8Array;
}

export function chainOf(
  lanes: readonly [Lane, Lane],
  candidates: readonly [readonly Candidate[], readonly Candidate[]],
  agrees: (lane: Lane, candidate: Candidate) => boolean,
): Chain {
  const positions = lanes[0].bits.length;
  const count = candidates[0].length + candidates[1].length;
  const chain: Chain = {
    positions,
    candidates: count,
    lane: new Uint8Array(count),
    enter: new Uint16Array(count),
    leave: new Uint16Array(count),
    order: new Uint32Array(count),
    passable: [new Uint8Array(positions), new Uint8Array(positions)],
    agrees: new Uint8Array(count),
  };
  let c = 0;
  for (const o of [0, 1] as const) {
    const lane = lanes[o];
    for (let k = 0; k < positions; k++) {
      chain.passable[o][o === 0 ? k : positions - 1 - k] = lane.state[k] === MOVES ? 0 : 1;
    }
    for (const candidate of candidates[o]) {
      chain.lane[c] = o;
      chain.enter[c] = o === 0 ? candidate.from : positions - 1 - candidate.to;
      chain.leave[c] = (chain.enter[c] as number) + candidate.to - candidate.from + 1;
      chain.agrees[c] = agrees(lane, candidate) ? 1 : 0;
      c++;
    }
  }
  chain.order.set(
    Array.from({ length: count }, (_, k) => k).sort(
      (a, b) => (chain.enter[a] as number) - (chain.enter[b] as number),
    ),
  );
  return chain;
}

const NONE = Number.NEGATIVE_INFINITY;
const work = Array.from({ length: 4 }, () => new Float64Array(600));

/** Probabilities of the candidates into `out`; returns the log of the sum over covers, −∞ where there is none. */
export function probabilities(
  chain: Chain,
  scores: Float64Array,
  which: 'all' | 'agreeing',
  out: Float64Array,
): number {
  const { positions, enter, leave, lane, order, agrees } = chain;
  const [f0, f1, b0, b1] = work as [Float64Array, Float64Array, Float64Array, Float64Array];
  const only = which === 'agreeing';
  for (const row of work) row.fill(NONE, 0, positions + 1);
  f0[0] = 0;
  f1[0] = 0;
  let at = 0;
  for (let p = 0; p < positions; p++) {
    if (p > 0 && p % 8 === 0) switchOver(f0, f1, p);
    if (chain.passable[0][p]) f0[p + 1] = logSum(f0[p + 1] as number, f0[p] as number);
    if (chain.passable[1][p]) f1[p + 1] = logSum(f1[p + 1] as number, f1[p] as number);
    for (; at < order.length && enter[order[at] as number] === p; at++) {
      const c = order[at] as number;
      if (only && !agrees[c]) continue;
      const f = lane[c] === 0 ? f0 : f1;
      const end = leave[c] as number;
      f[end] = logSum(f[end] as number, (f[p] as number) + (scores[c] as number));
    }
  }
  const total = logSum(f0[positions] as number, f1[positions] as number);
  b0[positions] = 0;
  b1[positions] = 0;
  at = order.length - 1;
  for (let p = positions - 1; p >= 0; p--) {
    if (chain.passable[0][p]) b0[p] = logSum(b0[p] as number, b0[p + 1] as number);
    if (chain.passable[1][p]) b1[p] = logSum(b1[p] as number, b1[p + 1] as number);
    for (; at >= 0 && enter[order[at] as number] === p; at--) {
      const c = order[at] as number;
      if (only && !agrees[c]) {
        out[c] = 0;
        continue;
      }
      const [f, b] = lane[c] === 0 ? [f0, b0] : [f1, b1];
      const rest = (scores[c] as number) + (b[leave[c] as number] as number);
      b[p] = logSum(b[p] as number, rest);
      out[c] = Math.exp((f[p] as number) + rest - total);
    }
    if (p > 0 && p % 8 === 0) switchOver(b0, b1, p);
  }
  return total;
}

function switchOver(x: Float64Array, y: Float64Array, p: number): void {
  const [a, b] = [x[p] as number, y[p] as number];
  x[p] = logSum(a, b + SWITCH);
  y[p] = logSum(b, a + SWITCH);
}

function logSum(a: number, b: number): number {
  if (a === NONE) return b;
  if (b === NONE) return a;
  return a > b ? a + Math.log1p(Math.exp(b - a)) : b + Math.log1p(Math.exp(a - b));
}
