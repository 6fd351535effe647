/** A signal held against a reference channel: factor, offset and delay, or why there are none. */
import type { Evidence } from '../model.ts';

/** A measured series recorded beside a capture, on the clock of the capture. */
export interface ReferenceChannel {
  name: string;
  unit: string;
  /** Seconds, rising. */
  timeS: Float64Array;
  value: Float64Array;
}

/** A figure with bounds that hold it with a probability of 95 %. */
export interface Bounded {
  value: number;
  low: number;
  high: number;
}

export interface ScaleFit {
  /**
   * `linear`: reference = scale × raw + offset; `monotone`: one follows the other, but not by a line (`curve`);
   * `none`: they do not follow each other; `tooLittle`: too few independent samples to tell.
   */
  relation: 'linear' | 'monotone' | 'none' | 'tooLittle';
  /** Reference units per raw unit, as measured. */
  scale: Bounded;
  /** The plausible factor within the bounds, or null where they hold none or too many. */
  plainScale: { value: number; why: string } | null;
  offset: Bounded;
  /** Offset for `plainScale`, or null. */
  plainOffset: number | null;
  /** Seconds by which the reference comes after the signal. */
  lagS: Bounded;
  pearson: number;
  spearman: number;
  /** Pairs of values compared, and the independent values they are worth. */
  samples: number;
  effective: number;
  /** Raw values and reference values of the course, for `monotone`. */
  curve: { raw: number; reference: number }[];
  /** Usual departure from the line, in reference units. */
  residual: number;
  probability: number;
  evidence: Evidence[];
}

/** A signal as plain arrays: raw values at the times of its frames. */
export interface RawSeries {
  /** Seconds, rising. */
  timeS: Float64Array;
  value: Float64Array;
}
