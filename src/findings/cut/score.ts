/**
 * Scores of candidates from their features: a weighted sum at first; once it is known how far the fields of the bus keep
 * to byte edges, a weighted sum and a small layer of units that each look at one mixture of features.
 */
import type { Features } from './features.ts';
import { EDGE_FEATURES, FEATURE_AT, FEATURES } from './names.ts';
import { FIRST, SECOND, UNITS } from './weights.ts';

const PLAIN = FEATURES.length;
const EDGE_AT = EDGE_FEATURES.map((name) => FEATURE_AT[name]);

/** Inputs of the second pass: the features, the lean of the bus, and that lean times the features of edges. */
export const INPUTS = PLAIN + 1 + EDGE_AT.length;

/** Weights of one score: a linear part over the inputs, and units as rows of inputs, offset, and their weight. */
export interface Scorer {
  linear: Float64Array;
  /** units × (INPUTS + 2). */
  units: Float64Array;
}

const first = Float64Array.from(FIRST);
const second: Scorer = { linear: Float64Array.from(SECOND), units: Float64Array.from(UNITS.flat()) };
const inputs = new Float64Array(INPUTS);

/** Score before anything is known of the bus. */
export function firstScore(features: Features): number {
  let sum = 0;
  for (let k = 0; k < PLAIN; k++) sum += (features[k] as number) * (first[k] as number);
  return sum;
}

/** Score once it is known which share of the fields on this bus starts at a byte edge. */
export function secondScore(features: Features, edgeShare: number): number {
  fillInputs(inputs, features, edgeShare);
  return scored(second, inputs);
}

export function fillInputs(into: Float64Array, features: Features, edgeShare: number): void {
  const lean = 2 * edgeShare - 1;
  for (let k = 0; k < PLAIN; k++) into[k] = features[k] as number;
  into[PLAIN] = lean;
  for (let k = 0; k < EDGE_AT.length; k++) {
    into[PLAIN + 1 + k] = lean * (features[EDGE_AT[k] as number] as number);
  }
}

export function scored({ linear, units }: Scorer, x: Float64Array): number {
  let score = 0;
  for (let k = 0; k < INPUTS; k++) score += (linear[k] as number) * (x[k] as number);
  for (let at = 0; at < units.length; at += INPUTS + 2) {
    let sum = units[at + INPUTS] as number;
    for (let k = 0; k < INPUTS; k++) sum += (units[at + k] as number) * (x[k] as number);
    score += ((units[at + INPUTS + 1] as number) * sum) / (1 + Math.abs(sum));
  }
  return score;
}
