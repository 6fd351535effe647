/**
 * What a person did during recordings, and which signals followed: `rankCues` takes recordings with their cue sheets and
 * ranks signals and bits by what changed in the windows of a cue and nowhere else.
 */
export type { Cue, CueCandidate, CuedRecording, CueFinding } from './model.ts';
export { type CueOptions, cueSteps, rankCues } from './rank.ts';
