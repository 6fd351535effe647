/** Signals that belong together, as a graph: signals are its nodes, relations its edges. */
import type { Evidence } from '../model.ts';
import type { SignalPlace } from './grid.ts';

/**
 * - `copy`: the same values, or the same quantity in another resolution (`factor`, `offset`);
 * - `inverse`: the same quantity counted downwards, as redundant copies often are;
 * - `ratio`: two tracks of one thing in one message, tied by a fixed ratio;
 * - `together`: the same course with differences of their own, as wheel speeds have;
 * - `rate`: the second is the rate of change of the first;
 * - `sum`: the second is `factor` × first + `withFactor` × `with` + `offset`;
 * - `product`: the second is `factor` × first × `with`, up to offsets of both.
 */
export type RelationKind = 'copy' | 'inverse' | 'ratio' | 'together' | 'rate' | 'sum' | 'product';

export interface Relation {
  kind: RelationKind;
  from: SignalPlace;
  to: SignalPlace;
  /** Second signal on the right-hand side of `sum` and `product`. */
  with: SignalPlace | null;
  /** Raw value of `to` = factor × raw value of `from` + offset; per second for `rate`. */
  factor: number;
  offset: number;
  withFactor: number;
  /** Seconds by which `to` comes after `from`, with bounds; negative where it comes first. */
  delayS: number;
  delayLowS: number;
  delayHighS: number;
  /** Correlation of both with slow drift taken away. */
  r: number;
  probability: number;
  evidence: Evidence[];
}

/** A name for a physical quantity that relations suggest. */
export interface NameHint {
  name: string;
  signals: SignalPlace[];
  /** Why: "These four move together and split in bends." */
  words: string;
  probability: number;
}

export interface Relations {
  relations: Relation[];
  /** Groups of signals that carry one quantity, the finest first; inverse copies and ratios are not among them. */
  copies: SignalPlace[][];
  names: NameHint[];
}
