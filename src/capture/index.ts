/**
 * Recordings of bus traffic: the column store that holds them, the formats that read and write them, and ways to pick
 * frames out of them. Readers take pieces of bytes as they come, so that a file and a live stream are read alike.
 */
export { type ClockMatch, matchClocks, type NoMatch } from './clockMatch.ts';
export { type Conversations, conversationsOf } from './conversations.ts';
export { CaptureError } from './error.ts';
export type { CaptureFormat, CaptureReader, ReadOptions } from './formats/format.ts';
export { FORMATS } from './formats/list.ts';
export { type CounterPlace, type Health, healthOf } from './health.ts';
export { mergeCaptures } from './merge.ts';
export {
  concatenate,
  type FrameChoice,
  groupByMessage,
  type MessageFrames,
  pickFrames,
  selectFrames,
  storedLength,
} from './select.ts';
export { type Capture, CaptureBuilder } from './store.ts';
