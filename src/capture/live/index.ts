/**
 * A recording while it runs: the stream cut into whole blocks that can be appended, a running summary of its frames,
 * and cues put on its clock. Pure like the rest of the room: bytes and moments come in, nothing is read or waited for.
 */
export { ClockTie } from './clock.ts';
export { CueLog, type LoggedCue } from './cueLog.ts';
export { type StreamNote, StreamSplitter } from './split.ts';
export { type ClockStep, type LiveBus, type LiveSummary, RunningSummary } from './summary.ts';
