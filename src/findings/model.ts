/**
 * What findings hand over: the shapes of `findings/1` (documented in docs/forms.md), used inside as well as printed.
 * A finding is a claim with a probability and its evidence; it becomes part of the dictionary only when accepted.
 */
import type { CheckField } from '../can/check.ts';
import type { CueFinding } from './cues/model.ts';
import type { Relations } from './relations/model.ts';
import type { Followers } from './scale/against.ts';
import type { Senders } from './senders/model.ts';

export type FieldKind =
  | 'number'
  | 'flag'
  | 'enum'
  | 'constant'
  | 'counter'
  | 'check'
  | 'selector'
  | 'padding';

/** Something that was counted or measured and speaks for a finding, in words a person can check. */
export interface Evidence {
  /** One sentence with its figures: "1,251 of 1,251 frames agree". */
  text: string;
  /** Frames that were looked at, and those that agree. */
  frames?: number;
  agree?: number;
}

export interface FoundSignal {
  start: number;
  length: number;
  byteOrder: 'little' | 'big';
  signed: boolean | 'magnitude';
  kind: FieldKind;
  scale: number;
  offset: number;
  unit: string;
  selectorValue: number | null;
  probability: number;
  evidence: Evidence[];
}

export interface FoundCounter {
  start: number;
  length: number;
  byteOrder: 'little' | 'big';
  step: number;
  /** Values that the counter never takes, for example [15] when it runs 0 … 14. */
  skip: number[];
  /** Identifiers of other messages of the bus whose frames the same counter runs over; absent where it is the message's own. */
  sharedWith?: number[];
  probability: number;
  evidence: Evidence[];
}

export interface FoundCheck extends CheckField {
  probability: number;
  /** Name in a published standard where the parameters equal one, otherwise empty. */
  standard: string;
  evidence: Evidence[];
}

export interface FoundSelector {
  start: number;
  length: number;
  byteOrder: 'little' | 'big';
  probability: number;
  evidence: Evidence[];
}

export interface FoundMessage {
  bus: number;
  id: number;
  extended: boolean;
  /** Payload length in bytes; the commonest where it varies. */
  length: number;
  frames: number;
  /** Robust period in milliseconds, null for a message that is not periodic. */
  periodMs: number | null;
  /** Median absolute deviation of the gaps, scaled to a standard deviation, in milliseconds; null where too few frames. */
  jitterMs: number | null;
  timing: 'periodic' | 'onChange' | 'mixed' | 'burst' | 'tooFew';
  /** Frames (bursts) missing by gaps of two or three periods, an estimate; null where not periodic. */
  missing: number | null;
  /** Long silences of the message: from its last stamp before to its first after, seconds. */
  outages: { fromS: number; toS: number }[];
  /** Share of frames in which each payload bit differs from the frame before, Float64[8 × length], bit = 8 × byte + bit. */
  flipRate: Float64Array;
  signals: FoundSignal[];
  counter: FoundCounter | null;
  check: FoundCheck | null;
  /** The field that decides what others mean; those carry its value as `selectorValue`. */
  selector: FoundSelector | null;
  /** What could not be decided and which recording would decide it. */
  open: string[];
}

export interface Findings {
  frames: number;
  seconds: number;
  messages: FoundMessage[];
  /** Which messages are sent from one clock. */
  senders: Senders;
  /** Filled where they were asked for: ties between signals, what followed cues, what follows reference channels. */
  relations?: Relations;
  cues?: CueFinding[];
  scales?: Followers[];
}
