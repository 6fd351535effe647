/**
 * Which messages are sent from one clock, from stamps alone: identifiers are not looked at, payloads only for what follows
 * what. A clock is not a unit: one unit can hold two, and one clock can serve several functions.
 */
import { formatId } from '../../can/frame.ts';
import type { Capture } from '../../capture/store.ts';
import { inSteps, type StepOptions } from '../steps.ts';
import { oddsOf, type PairsOfRecording, pairSteps } from './evidence.ts';
import { type Follow, followSteps } from './follows.ts';

import { listedMessage, setAside } from './listed.ts';
import type { Senders } from './model.ts';
import { CLEAR_PPM, LEAST, pairsOf } from './pairWords.ts';
import { pointPartition, samplePartitions } from './partition.ts';
import { type MessageKey, type Recording, recordingsOf } from './recordings.ts';
import { clip, medianInPlace } from './robust.ts';
import { groupOf } from './tick.ts';

export interface SenderOptions {
  /** Buses to look at; all where absent. */
  buses?: readonly number[];
}

/** The same message was given twice. */
export class DuplicateMessageError extends Error {
  override name = 'DuplicateMessageError';
}

/** Evidence of several recordings of one car counts count^−0.3 of its sum: they are not independent. */
const RECORDINGS_POWER = 0.3;

/**
 * Senders of a capture. Gives the rest of the program a turn now and then.
 * @throws the reason of `signal` when it is aborted.
 */
export async function findSenders(
  capture: Capture,
  options: SenderOptions & StepOptions = {},
): Promise<Senders> {
  return inSteps(senderSteps(capture, options), options);
}

/** The same in steps; yields the share done. */
export function* senderSteps(capture: Capture, options: SenderOptions = {}): Generator<number, Senders> {
  const { messages, recordings } = recordingsOf(capture, options.buses);
  yield 0.1;
  const inner = sendersOf(messages, recordings);
  let step = inner.next();
  for (; !step.done; step = inner.next()) yield 0.1 + 0.9 * step.value;
  return step.value;
}

/**
 * Senders of `messages` from recordings of one car, the longest first; each holds the stamps of all messages in their order.
 * Yields the share done.
 * @throws DuplicateMessageError where a message is listed twice
 */
export function* sendersOf(
  messages: readonly MessageKey[],
  recordings: readonly Recording[],
): Generator<number, Senders> {
  refuseDuplicates(messages);
  const parts: PairsOfRecording[] = [];
  const follows: Follow[] = [];
  for (const [r, recording] of recordings.entries()) {
    const pairs = pairSteps(recording);
    let step = pairs.next();
    for (; !step.done; step = pairs.next()) yield (r + 0.7 * step.value) / recordings.length;
    parts.push(step.value);
    const after = followSteps(recording, step.value.clocks);
    let next = after.next();
    for (; !next.done; next = after.next()) yield (r + 0.7 + 0.1 * next.value) / recordings.length;
    for (const follow of next.value) if (!follows.some((f) => sameFollow(f, follow))) follows.push(follow);
  }
  const n = messages.length;
  const listed = messages.map((message, i) =>
    listedMessage(message, i, recordings, parts, follows, messages),
  );
  const evidence = joined(n, parts);
  for (const [i, message] of listed.entries()) {
    if (message.notPlaced !== null || n < 3) continue;
    const loudest = listed.reduce(
      (most, other, j) =>
        j === i || other.notPlaced === 'answers'
          ? most
          : Math.max(most, Math.abs(evidence[i * n + j] as number)),
      0,
    );
    if (loudest < 1) setAside(message, 'nothingEitherWay');
  }
  // In the order of their stamps, so that neither the order of the list nor identifiers can matter to the sampler.
  const placed = listed
    .flatMap((message, i) => (message.notPlaced === null ? [i] : []))
    .sort((a, b) => firstStamp(recordings, a) - firstStamp(recordings, b) || a - b);
  const m = placed.length;
  const among = new Float64Array(m * m);
  for (let a = 0; a < m; a++)
    for (let b = 0; b < m; b++)
      among[a * m + b] = evidence[(placed[a] as number) * n + (placed[b] as number)] as number;
  const sampler = samplePartitions(among, m);
  let sample = sampler.next();
  for (; !sample.done; sample = sampler.next()) yield 0.8 + 0.2 * sample.value;
  const { together, counts } = sample.value;
  const limit = limitOf(recordings, parts);
  const most = limit?.most ?? 1;
  const pairs = pairsOf(placed, together, parts, n, most);
  const groups = pointPartition(together, m).map((group) => {
    const members = group.map((k) => ({
      message: placed[k] as number,
      belongs: group.length > 1 ? Math.min(most, belonging(k, group, together, m)) : 1,
    }));
    return groupOf(members, parts, n);
  });
  groups.sort(
    (a, b) => b.messages.length - a.messages.length || (a.messages[0] as number) - (b.messages[0] as number),
  );
  return { messages: listed, groups, pairs, units: unitsOf(counts, m), follows, limit };
}

function refuseDuplicates(messages: readonly MessageKey[]): void {
  const seen = new Set<string>();
  for (const { bus, id, extended } of messages) {
    const name = `bus ${bus} ${formatId(id, extended)}`;
    if (seen.has(name))
      throw new DuplicateMessageError(`${name} is listed twice: give all its frames as one message`);
    seen.add(name);
  }
}

function sameFollow(a: Follow, b: Follow): boolean {
  return a.effect === b.effect && a.by === b.by;
}

/** Evidence of all pairs over all recordings, ln odds, Float64[n × n]. */
function joined(n: number, parts: readonly PairsOfRecording[]): Float64Array {
  const sum = new Float64Array(n * n);
  const count = new Float64Array(n * n);
  for (const { pairs } of parts) {
    for (const [at, { cues }] of pairs) {
      sum[at] = (sum[at] as number) + oddsOf(cues);
      count[at] = (count[at] as number) + 1;
    }
  }
  for (let i = 0; i < n; i++) {
    for (let j = i + 1; j < n; j++) {
      const at = i * n + j;
      const value =
        (count[at] as number) > 0 ? (sum[at] as number) * (count[at] as number) ** -RECORDINGS_POWER : 0;
      sum[at] = value;
      sum[j * n + i] = value;
    }
  }
  return sum;
}

function firstStamp(recordings: readonly Recording[], i: number): number {
  for (const { times } of recordings) {
    const first = times[i]?.[0];
    if (first !== undefined) return first;
  }
  return Number.POSITIVE_INFINITY;
}

/** What holds for the whole recording: with coarse stamps or noisy ones, no high probability has proved right. */
function limitOf(recordings: readonly Recording[], parts: readonly PairsOfRecording[]): Senders['limit'] {
  const errors = parts.flatMap(({ pairs }) =>
    [...pairs.values()].flatMap(({ drift }) => drift?.errorPpm ?? []),
  );
  if (errors.length > 0) {
    const usual = medianInPlace(Float64Array.from(errors));
    if (usual > CLEAR_PPM) {
      return {
        most: 0.7,
        reason: `Not enough to tell: drift between messages is known to ${usual.toFixed(0)} ppm only, as much as units differ. Record for longer, or with stamps from the interface's hardware.`,
      };
    }
  }
  const [longest] = recordings;
  if (longest && longest.stampS >= 0.0009 && longest.toS - longest.fromS < 300) {
    return {
      most: 0.8,
      reason: `Stamps come in steps of ${(1000 * longest.stampS).toFixed(0)} ms: record for five minutes or more, or with finer stamps.`,
    };
  }
  return null;
}

/** Mean probability of `i` and each other member of its group. */
function belonging(i: number, group: readonly number[], together: Float64Array, m: number): number {
  let sum = 0;
  for (const j of group) if (j !== i) sum += together[i * m + j] as number;
  return clip(sum / (group.length - 1), LEAST, 1 - LEAST);
}

function unitsOf(counts: readonly number[], placed: number): Senders['units'] {
  if (placed === 0) return null;
  const sorted = [...counts].sort((a, b) => a - b);
  const at = (share: number) => sorted[Math.round(share * (sorted.length - 1))] as number;
  return { low: at(0.05), likely: at(0.5), high: at(0.95) };
}
