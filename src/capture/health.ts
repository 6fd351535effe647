/**
 * Health report of a capture: how full each bus was, error messages, silences, steps of the clock, and for each message its
 * rhythm, frames lost and signs of a second sender. Pure; counters come in as data.
 */
import { idKey } from '../can/frame.ts';
import { busesOf } from './health/buses.ts';
import { type Counted, counted, lossesOf, stepsBetween, twoCounters } from './health/counting.ts';
import type { BusGap, BusHealth, CounterPlace, Health, MessageHealth, TwoSenders } from './health/model.ts';
import { rhythmOf, twoRhythms } from './health/rhythm.ts';
import { groupByMessage, type MessageFrames } from './select.ts';
import type { Capture } from './store.ts';

export type {
  BusGap,
  BusHealth,
  BusLoad,
  ClockHealth,
  CounterPlace,
  Health,
  MessageHealth,
  TwoSenders,
} from './health/model.ts';

export interface HealthOptions {
  /** Bits per second by bus; without one, the load of the bus is told in bits alone. */
  bitRates?: ReadonlyMap<number, number>;
  /** Bits per second of the data phase of CAN FD by bus. */
  dataBitRates?: ReadonlyMap<number, number>;
  /** Window of the load in seconds, default 1. */
  windowS?: number;
  counters?: readonly CounterPlace[];
  /** Identifiers whose frames are parts of transfers (`Conversations.carriers`): their gaps say nothing of senders or losses. */
  carriers?: readonly { bus: number; idKey: number }[];
  onProgress?: (share: number) => void;
  signal?: AbortSignal;
}

/** @throws the reason of `signal` when it is aborted. */
export function healthOf(capture: Capture, options: HealthOptions = {}): Health {
  const { buses, clock, fromS, toS } = busesOf(capture, {
    bitRates: options.bitRates ?? new Map(),
    dataBitRates: options.dataBitRates ?? new Map(),
    windowS: options.windowS ?? 1,
    onFrame: (frame) => {
      options.signal?.throwIfAborted();
      options.onProgress?.((0.6 * frame) / capture.count);
    },
  });
  const counters = new Map((options.counters ?? []).map((c) => [placeOf(c.bus, c.idKey), c]));
  const carriers = new Set((options.carriers ?? []).map((c) => placeOf(c.bus, c.idKey)));
  const votes = new Map<BusGap, Votes>();
  const groups = groupByMessage(capture);
  const messages = groups.map((group, at) => {
    options.signal?.throwIfAborted();
    options.onProgress?.(0.6 + (0.4 * at) / groups.length);
    const place = placeOf(group.bus, idKey(group.id, group.extended ? 1 : 0));
    const bus = buses.find((b) => b.bus === group.bus) as BusHealth;
    const counter = counters.get(place);
    return messageHealth(capture, group, bus, counter, carriers.has(place), votes);
  });
  for (const { gaps } of buses) for (const gap of gaps) gap.told = toldBy(votes.get(gap));
  options.onProgress?.(1);
  return { frames: capture.count, seconds: toS - fromS, buses, messages, clock };
}

/** What counters say of one gap: went on by one, went on as the time asks, neither; and how many of them can tell the two apart. */
interface Votes {
  next: number;
  due: number;
  other: number;
}

function messageHealth(
  capture: Capture,
  group: MessageFrames,
  bus: BusHealth,
  place: CounterPlace | undefined,
  carrier: boolean,
  votes: Map<BusGap, Votes>,
): MessageHealth {
  const { frames } = group;
  const gapBefore = gapsBefore(frames, bus.gaps);
  const time = new Float64Array(frames.length);
  const across = new Uint8Array(frames.length);
  for (let k = 0; k < frames.length; k++) {
    time[k] = capture.time[frames[k] as number] as number;
    if ((gapBefore[k] as number) >= 0) across[k] = 1;
  }
  const rhythm = rhythmOf(time, across);
  const counter = place ? counted(capture, frames, place) : null;
  const senders = carrier ? null : twoSenders(time, across, counter);
  const losses = counter ? lossesOf(counter, time, across, rhythm.periodS) : null;
  if (counter && losses?.believed) vote(counter, time, gapBefore, bus.gaps, rhythm.periodS, votes);
  const ms = (s: number | null) => (s === null ? null : s * 1000);
  return {
    bus: group.bus,
    id: group.id,
    extended: group.extended,
    frames: frames.length,
    periodMs: ms(rhythm.periodS),
    jitterMs: ms(rhythm.jitterS),
    leastGapMs: ms(rhythm.leastS),
    greatestGapMs: ms(rhythm.greatestS),
    lost: senders || carrier ? null : lostBy(losses, rhythm.lost),
    repeated: losses?.believed ? losses.repeated : null,
    senders,
  };
}

function lostBy(losses: ReturnType<typeof lossesOf> | null, byGaps: number | null): MessageHealth['lost'] {
  if (losses?.believed) return { frames: losses.lost, by: 'counter' };
  return byGaps === null ? null : { frames: byGaps, by: 'gaps' };
}

function twoSenders(time: Float64Array, across: Uint8Array, counter: Counted | null): TwoSenders | null {
  const byCounter = counter ? twoCounters(counter) : [];
  const blocks = byCounter.length > 0 ? byCounter : twoRhythms(time, across);
  const first = blocks[0];
  const last = blocks.at(-1);
  if (!first || !last) return null;
  const inside = blocks.reduce((sum, [from, to]) => sum + to - from, 0);
  return {
    sign: byCounter.length > 0 ? 'counters' : 'phases',
    fromS: time[first[0]] as number,
    toS: time[last[1] - 1] as number,
    share: inside / time.length,
  };
}

/** For each frame of a message the gap of its bus that lies between it and the frame before, −1 where there is none. */
function gapsBefore(frames: Uint32Array, gaps: readonly BusGap[]): Int32Array {
  const before = new Int32Array(frames.length).fill(-1);
  let g = 0;
  for (let k = 0; k < frames.length; k++) {
    for (; g < gaps.length && (gaps[g] as BusGap).frame <= (frames[k] as number); g++) {
      if (k > 0) before[k] = g;
    }
  }
  return before;
}

function vote(
  counter: Counted,
  time: Float64Array,
  gapBefore: Int32Array,
  gaps: readonly BusGap[],
  periodS: number | null,
  votes: Map<BusGap, Votes>,
): void {
  for (let k = 1; k < time.length; k++) {
    const gap = gaps[gapBefore[k] as number];
    const step = stepsBetween(counter, k);
    if (!gap || step < 0) continue;
    const due =
      periodS === null
        ? -1
        : Math.round(((time[k] as number) - (time[k - 1] as number)) / periodS) % counter.cycle;
    // A counter for which both come to the same cannot tell.
    if (due === 1) continue;
    const tally = votes.get(gap) ?? { next: 0, due: 0, other: 0 };
    if (step === 1) tally.next++;
    else if (step === due) tally.due++;
    else tally.other++;
    votes.set(gap, tally);
  }
}

/** At least two counters, and most of them, must say the same: by chance one in its cycle does. */
function toldBy(votes: Votes | undefined): BusGap['told'] {
  if (!votes) return 'open';
  const { next, due, other } = votes;
  const most = 0.7 * (next + due + other);
  if (next >= 2 && next >= most) return 'clock';
  return due >= 2 && due >= most ? 'lost' : 'open';
}

function placeOf(bus: number, key: number): number {
  return bus * 2 ** 32 + key;
}
