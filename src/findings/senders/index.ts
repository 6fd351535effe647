/**
 * Which messages are sent from one clock, how many units there may be, and what comes after what: from stamps alone.
 * `findSenders` is the way in; weights come from simulated recordings (bench/sendersFit.ts).
 */
export type { Follow } from './follows.ts';
export type {
  NotPlaced,
  PairWord,
  SenderGroup,
  SenderMessage,
  SenderPair,
  Senders,
} from './model.ts';
export { type MessageKey, type Recording, recordingOf, recordingsOf } from './recordings.ts';
export { DuplicateMessageError, findSenders, type SenderOptions, senderSteps, sendersOf } from './senders.ts';
