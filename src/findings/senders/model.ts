/** What the room tells about senders. Messages are named by their place in `Senders.messages`. */
import type { Follow } from './follows.ts';
import type { MessageKey } from './recordings.ts';

/**
 * Why a message is not placed: too few frames; no regular pace; its pace is that of the message that it answers; or nothing
 * in its stamps speaks for or against any other.
 */
export type NotPlaced = 'tooFew' | 'notRegular' | 'answers' | 'nothingEitherWay';

export interface SenderMessage extends MessageKey {
  frames: number;
  /** Period of the line that fits best over the longest recording; null where there is no clock to be seen. */
  periodMs: number | null;
  notPlaced: NotPlaced | null;
  /** One sentence where it is not placed. */
  reason: string | null;
}

export type PairWord = 'oneClock' | 'notEnough' | 'noSign';

export interface SenderPair {
  a: number;
  b: number;
  /** Probability that both are sent from one clock. */
  probability: number;
  word: PairWord;
  /** Drift between both in ppm and its standard error, of the longest recording; null where they have no common beat. */
  driftPpm: number | null;
  errorPpm: number | null;
  /** Silences that both share. */
  sharedSilences: number;
}

export interface SenderGroup {
  messages: number[];
  /** Probability of each that it belongs to the rest of the group (mean over its pairs); 1 for a message alone. */
  belongs: number[];
  /** The least of them. */
  probability: number;
  /** Step of the timer on which all of them fall, where one fits that would not fit by chance. */
  tickMs: number | null;
  /** Phase of each after the fastest of them, within that one's period; null where it does not stand still. */
  phaseMs: (number | null)[];
}

export interface Senders {
  messages: SenderMessage[];
  /** Placed messages by clock, those alone included; the largest group first. */
  groups: SenderGroup[];
  /** All pairs of placed messages. */
  pairs: SenderPair[];
  /** How many units send the placed messages: 5 %, 50 % and 95 % of the sampled partitions. Null where none is placed. */
  units: { low: number; likely: number; high: number } | null;
  follows: Follow[];
  /** Why no probability above `most` is stated, or null. */
  limit: { most: number; reason: string } | null;
}
