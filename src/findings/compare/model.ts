/** Two recordings held against each other: unit fitted and removed, one version and another. */

export type DifferenceKind =
  | 'appeared'
  | 'vanished'
  | 'timing'
  | 'length'
  | 'constant'
  | 'movement'
  | 'range'
  | 'layout'
  | 'counter'
  | 'check';

export interface Difference {
  bus: number;
  id: number;
  extended: boolean;
  kind: DifferenceKind;
  /** Bits or bytes that are meant; null for the whole message. */
  place: { start: number; length: number } | null;
  /** Probability that recordings without any difference would show this by accident, before many messages were looked at. */
  chance: number;
  /** Whether it counts as a change, in view of how many comparisons were made. */
  sure: boolean;
  /** One sentence with its figures. */
  text: string;
}

export interface Comparison {
  a: { frames: number; seconds: number; messages: number };
  b: { frames: number; seconds: number; messages: number };
  /** Messages by bus and identifier that are in both and show no sure difference. */
  same: number;
  /** Comparisons that were made: the chance of one must be below 0.05 ÷ this. */
  tests: number;
  /** Sure ones first. */
  differences: Difference[];
}
