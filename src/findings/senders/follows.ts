/**
 * Messages that come after another: answers to requests, and changes that follow changes. Only delays are looked at, so a
 * common cause of both looks the same: what is found is that B comes after A, not why.
 */
import { burstFirsts, isRegular, lowerBound, periodOf, thinned } from './clock.ts';
import type { ClockOrNot } from './evidence.ts';
import type { Recording } from './recordings.ts';

export interface Follow {
  /** Places in the list of messages. */
  cause: number;
  effect: number;
  /** What of the one follows what of the other: frames, or frames with a new payload. */
  of: 'frame' | 'change';
  by: 'frame' | 'change';
  /** Middle delay, and half the width of the window that holds the delays counted; seconds. */
  delayS: number;
  jitterS: number;
  /** Frames (or changes) of the effect that were looked at, the share that came in the window, the share by chance. */
  count: number;
  share: number;
  chance: number;
  /** The effect is sent at a pace that it takes from the cause: it shows the clock of the cause, not of its sender. */
  copiesPace: boolean;
}

/** Bound on the expected number of false finds, over all pairs and windows tried. */
const MOST_FALSE = 1e-6;
const FEWEST = 8;
const MOST_LOOKED_AT = 1500;
const LONGEST_DELAY_S = 1;
/** The quickest of all answers to one message does not take longer than this. */
const LONGEST_FIRST_S = 0.01;
const WINDOWS_S = [0.0005, 0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5];

/** Follows of one recording, the surest first for each effect. Yields the share done. */
export function* followSteps(
  recording: Recording,
  clocks: readonly ClockOrNot[],
): Generator<number, Follow[]> {
  const trains = trainsOf(recording, clocks);
  const tries = trains.length ** 2 * WINDOWS_S.length;
  const found: Follow[] = [];
  for (const [k, effect] of trains.entries()) {
    const mine: (Follow & { surprise: number })[] = [];
    for (const cause of trains) {
      if (cause.message === effect.message) continue;
      const follow = followOf(cause, effect, recording, tries);
      if (follow !== null) mine.push(follow);
    }
    mine.sort((a, b) => b.surprise - a.surprise || a.delayS - b.delayS);
    const [best] = mine;
    if (best !== undefined) found.push(withoutSurprise(best));
    yield (k + 1) / trains.length;
  }
  return found.filter(
    (f) => f.by === 'frame' || !found.some((g) => g.by === 'frame' && g.effect === f.effect),
  );
}

interface Train {
  message: number;
  kind: 'frame' | 'change';
  time: Float64Array;
  /** Period where it has a clock, and how far its stamps stray from an even pace; seconds. */
  periodS: number | null;
  strayS: number;
  /** Frames of it come at a pace, and this train is those frames. */
  paced: boolean;
}

function trainsOf({ times, changes }: Recording, clocks: readonly ClockOrNot[]): Train[] {
  const trains: Train[] = [];
  times.forEach((time, message) => {
    const clock = clocks[message];
    const seen = clock === undefined || typeof clock === 'string' ? null : clock;
    const periodS = seen?.periodS ?? null;
    const strayS = seen ? Math.hypot(seen.line.roughS, seen.line.spreadS) : 0;
    const paced = seen !== null;
    // Frames of one burst are one event.
    const events = seen?.time ?? burstFirsts(time);
    // Too few frames for a clock, but at a pace: a steady distance to another such message means nothing.
    const steady = seen === null && isRegular(events, periodOf(events));
    if (events.length >= FEWEST && !steady)
      trains.push({ message, kind: 'frame', time: events, periodS, strayS, paced });
    const changed = changes[message] as Float64Array;
    // Where most frames differ from the one before, a change is nothing to follow.
    if (paced && changed.length >= FEWEST && changed.length < time.length / 4)
      trains.push({ message, kind: 'change', time: changed, periodS, strayS, paced: false });
  });
  return trains;
}

function followOf(
  cause: Train,
  effect: Train,
  recording: Recording,
  tries: number,
): (Follow & { surprise: number }) | null {
  if (cause.paced || effect.paced) {
    return cause.paced && effect.paced ? answerAtPace(cause, effect, recording) : null;
  }
  const some = thinned(effect.time, MOST_LOOKED_AT);
  const delays = delaysOf(cause.time, some);
  // Frames of a message with a clock fall on its ticks, and so do its changes: finer than that, chance is not even.
  const coarse =
    (cause.kind === 'change' ? (cause.periodS ?? 0) : 0) +
    (effect.kind === 'change' ? (effect.periodS ?? 0) : 0);
  const usualGap = (recording.toS - recording.fromS) / cause.time.length;
  let best: (Follow & { surprise: number }) | null = null;
  for (const window of WINDOWS_S) {
    if (window < coarse || window > usualGap / 5) continue;
    const { from, count } = densest(delays, window);
    if (count < FEWEST || count < 0.8 * some.length) continue;
    const chance = ageShare(cause.time, from, window, recording.toS - recording.fromS);
    const share = count / some.length;
    const surprise = some.length * divergence(share, Math.min(0.5, 2 * chance));
    if (share < 5 * chance || surprise < Math.log(tries / MOST_FALSE)) continue;
    if (best !== null && best.surprise >= surprise) continue;
    const inside = delays.filter((d) => d >= from && d <= from + window);
    best = {
      cause: cause.message,
      effect: effect.message,
      of: cause.kind,
      by: effect.kind,
      delayS: inside[inside.length >> 1] as number,
      jitterS: window / 2,
      count: some.length,
      share,
      chance,
      copiesPace: false,
      surprise,
    };
  }
  return best;
}

/**
 * An answer to a message that comes at an uneven pace: every stray of that pace is in it too, never before it, and delays that begin at what a reply takes at
 * least and then spread by milliseconds, as of a sender that looks for questions now and then. Two messages of one task lie
 * a frame or two apart; two of one timer keep a steady distance.
 */
function answerAtPace(
  cause: Train,
  effect: Train,
  { frameS }: Recording,
): (Follow & { surprise: number }) | null {
  const periodS = cause.periodS as number;
  const own = effect.periodS as number;
  if (Math.abs(own / periodS - 1) > 0.002 || effect.time.length < 3 * FEWEST) return null;
  const some = thinned(effect.time, MOST_LOOKED_AT);
  const delays = delaysOf(cause.time, some);
  const at = (share: number) => delays[Math.floor(share * (delays.length - 1))] as number;
  const longest = Math.min(0.2 * periodS, 0.05);
  const spread = at(0.75) - at(0.25);
  if (delays.length < 0.97 * some.length || at(0.97) > longest) return null;
  if (spread < Math.max(0.001, 3 * frameS) || at(0.02) > LONGEST_FIRST_S) return null;
  // With a caller of even pace an answer looks like any other message of that pace.
  if (cause.strayS < spread || effect.strayS < spread) return null;
  // Delays of a queue pile up at the least one and thin out; those of a reply fill the time until the next look.
  if (at(0.5) - at(0.02) < 0.6 * (at(0.9) - at(0.5))) return null;
  const within = delays.filter((d) => d <= longest).length / some.length;
  return {
    cause: cause.message,
    effect: effect.message,
    of: 'frame',
    by: 'frame',
    delayS: at(0.5),
    jitterS: (at(0.95) - at(0.05)) / 2,
    count: some.length,
    share: within,
    chance: longest / periodS,
    copiesPace: true,
    surprise: some.length * divergence(within, longest / periodS),
  };
}

/** For each effect the time since the latest cause before it, those over the longest delay left out; rising. */
function delaysOf(cause: Float64Array, effect: Float64Array): Float64Array {
  const delays = new Float64Array(effect.length);
  let n = 0;
  for (const t of effect) {
    const at = lowerBound(cause, t) - 1;
    if (at < 0) continue;
    const delay = t - (cause[at] as number);
    if (delay <= LONGEST_DELAY_S) delays[n++] = delay;
  }
  return delays.slice(0, n).sort();
}

/** The window of this width that holds the most delays. */
function densest(sorted: Float64Array, window: number): { from: number; count: number } {
  let best = { from: 0, count: 0 };
  let to = 0;
  for (let k = 0; k < sorted.length; k++) {
    const from = sorted[k] as number;
    while (to < sorted.length && (sorted[to] as number) <= from + window) to++;
    if (to - k > best.count) best = { from, count: to - k };
  }
  return best;
}

/** Share of all moments at which the latest cause is `from` … `from + window` ago. */
function ageShare(cause: Float64Array, from: number, window: number, lengthS: number): number {
  let sum = 0;
  for (let k = 0; k < cause.length; k++) {
    const gap = (cause[k + 1] ?? Number.POSITIVE_INFINITY) - (cause[k] as number);
    sum += Math.min(window, Math.max(0, gap - from));
  }
  return Math.min(1, sum / lengthS);
}

/** Kullback–Leibler divergence of Bernoulli(share) from Bernoulli(chance): −ln of Chernoff's bound, per trial. */
function divergence(share: number, chance: number): number {
  if (share <= chance) return 0;
  const miss = share < 1 ? (1 - share) * Math.log((1 - share) / (1 - chance)) : 0;
  return share * Math.log(share / chance) + miss;
}

function withoutSurprise({ surprise: _, ...follow }: Follow & { surprise: number }): Follow {
  return follow;
}
