/** What a person did during recordings, and the signals that followed. */
import type { Capture } from '../../capture/store.ts';
import type { Evidence } from '../model.ts';
import type { SignalPlace } from '../relations/grid.ts';

export interface Cue {
  name: string;
  /** Seconds from the first frame of the recording. */
  startS: number;
  endS: number;
  level?: number | undefined;
}

/** One recording with its whole cue sheet: what is not on the sheet was not done. */
export interface CuedRecording {
  name: string;
  capture: Capture;
  cues: readonly Cue[];
}

export interface CueCandidate extends SignalPlace {
  rank: number;
  /** Share of shuffled cue sheets under which any signal at all follows as closely as this one. */
  pValue: number;
  /** The same of this signal alone, without regard to how many were tried. */
  pAlone: number;
  /** Correlation with the cue, −1 … 1; of its values or their ranks, or of whether it moves. */
  agreement: number;
  /** The value follows the cue, or that it changes does. */
  by: 'value' | 'moves';
  /** Seconds by which it follows the noted times; negative where the cue was noted late. 0 where the cue fills recordings. */
  lagS: number;
  evidence: Evidence[];
}

export interface CueFinding {
  /** Name of the cue; of a family of levels ("brake half", "brake full") the common part; of opposites "left / right". */
  name: string;
  /** Times it was done: windows within recordings, and recordings that it fills. */
  repeats: number;
  /** Best first. */
  candidates: CueCandidate[];
  /** How many more times it must be done before the first of the list can be believed; 0 where it can. */
  more: number;
  /** What is not known yet and what would settle it; null where nothing is open. */
  open: string | null;
}
