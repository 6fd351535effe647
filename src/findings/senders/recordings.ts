/** The stamps of all messages of a capture, recording by recording: nothing is compared across a break of the clock. */
import { groupByMessage } from '../../capture/select.ts';
import type { Capture } from '../../capture/store.ts';
import { sessionsOf } from '../rows.ts';
import { medianInPlace } from './robust.ts';

export interface MessageKey {
  bus: number;
  id: number;
  extended: boolean;
}

export interface Recording {
  fromS: number;
  toS: number;
  /** Stamps of each message, rising; empty where it was not sent. */
  times: Float64Array[];
  /** Those of them at which the payload differs from the frame before. */
  changes: Float64Array[];
  /** Resolution of the stamps, and how long a frame takes on the bus; seconds. */
  stampS: number;
  frameS: number;
}

/** More recordings than this add nothing to what is known of a pair. */
const MOST_RECORDINGS = 12;

export function recordingsOf(
  capture: Capture,
  buses?: readonly number[],
): { messages: MessageKey[]; recordings: Recording[] } {
  const session = sessionsOf(capture);
  const unbroken = session[capture.count - 1] === 0;
  const groups = groupByMessage(capture).filter((m) => buses?.includes(m.bus) ?? true);
  const parts = new Map<number, { times: Float64Array[]; changes: Float64Array[] }>();
  groups.forEach(({ frames }, g) => {
    for (let from = 0; from < frames.length; ) {
      const number = session[frames[from] as number] as number;
      let to = from;
      // Where nothing breaks the recording, the search for its end is spared: it costs as much as all the rest.
      if (unbroken) to = frames.length;
      while (to < frames.length && session[frames[to] as number] === number) to++;
      let part = parts.get(number);
      if (!part) {
        part = { times: groups.map(() => EMPTY), changes: groups.map(() => EMPTY) };
        parts.set(number, part);
      }
      part.times[g] = rising(timesOf(capture.time, frames, from, to));
      part.changes[g] = rising(changesIn(capture, frames.subarray(from, to)));
      from = to;
    }
  });
  const recordings = [...parts.values()]
    .map(({ times, changes }) => fromStart(times, changes))
    .sort((a, b) => b.toS - a.toS);
  return {
    messages: groups.map(({ bus, id, extended }) => ({ bus, id, extended })),
    recordings: recordings.slice(0, MOST_RECORDINGS),
  };
}

const EMPTY = new Float64Array(0);

/** One recording from the stamps of its messages, rising. Times are counted from its first frame. */
export function recordingOf(
  times: readonly Float64Array[],
  changes: readonly Float64Array[] = times.map(() => EMPTY),
): Recording {
  const own = (all: readonly Float64Array[]) => all.map((time) => time.slice());
  return fromStart(own(times), own(changes));
}

/** The same in the arrays given, which are changed: an hour of stamps is not held twice. */
function fromStart(times: Float64Array[], changes: Float64Array[]): Recording {
  let fromS = Number.POSITIVE_INFINITY;
  let toS = Number.NEGATIVE_INFINITY;
  for (const time of times) {
    if (time.length === 0) continue;
    fromS = Math.min(fromS, time[0] as number);
    toS = Math.max(toS, time[time.length - 1] as number);
  }
  for (const time of [...times, ...changes])
    for (let k = 0; k < time.length; k++) time[k] = (time[k] as number) - fromS;
  const some = sampleOf(times);
  return {
    fromS: 0,
    toS: Math.max(0, toS - fromS),
    times,
    changes,
    stampS: stampStep(some),
    frameS: frameTime(some),
  };
}

/** A plain loop: `Float64Array.from` with a function takes ten times as long. */
function timesOf(time: Float64Array, frames: Uint32Array, from: number, to: number): Float64Array {
  const own = new Float64Array(to - from);
  for (let k = from; k < to; k++) own[k - from] = time[frames[k] as number] as number;
  return own;
}

function changesIn(capture: Capture, frames: Uint32Array): Float64Array {
  const { payload, offset, length, time } = capture;
  const at = new Float64Array(frames.length);
  let n = 0;
  for (let k = 1; k < frames.length; k++) {
    const now = frames[k] as number;
    const before = frames[k - 1] as number;
    const size = length[now] as number;
    const a = offset[now] as number;
    const b = offset[before] as number;
    let same = size === length[before];
    for (let i = 0; same && i < size; i++) same = payload[a + i] === payload[b + i];
    if (!same) at[n++] = time[now] as number;
  }
  return at.slice(0, n);
}

/** Stamps of all messages from the start of the recording, some thousands. */
function sampleOf(times: readonly Float64Array[]): Float64Array {
  const total = times.reduce((sum, t) => sum + t.length, 0);
  const share = Math.min(1, 20000 / Math.max(1, total));
  const last = times.reduce((max, t) => Math.max(max, t[t.length - 1] ?? 0), 0);
  const some: number[] = [];
  for (const time of times) {
    for (const t of time) {
      if (t > last * share) break;
      some.push(t);
    }
  }
  return Float64Array.from(some).sort();
}

/** The coarsest usual step of which nearly all stamps are whole numbers, counted from the first; 0 where there is none. */
function stampStep(sorted: Float64Array): number {
  const first = sorted[0] ?? 0;
  for (const step of [1e-2, 1e-3, 5e-4, 1e-4, 5e-5, 2e-5, 1e-5, 1e-6]) {
    let fit = 0;
    for (const t of sorted) {
      const away = Math.abs((t - first) / step - Math.round((t - first) / step));
      if (away < 0.03 + 1e-7 / step) fit++;
    }
    if (fit >= 0.98 * sorted.length) return step;
  }
  return 0;
}

/** Gap of frames that wait for each other: the fastest twentieth of all gaps, within what a frame can take at all. */
function frameTime(sorted: Float64Array): number {
  const gaps: number[] = [];
  for (let k = 1; k < sorted.length; k++) {
    const gap = (sorted[k] as number) - (sorted[k - 1] as number);
    if (gap > 40e-6 && gap < 2e-3) gaps.push(gap);
  }
  if (gaps.length < 20) return 0.0003;
  const fastest = Float64Array.from(gaps)
    .sort()
    .subarray(0, Math.ceil(gaps.length / 10));
  return Math.min(0.0006, Math.max(0.0001, medianInPlace(fastest)));
}

function rising(time: Float64Array): Float64Array {
  for (let k = 1; k < time.length; k++) if ((time[k] as number) < (time[k - 1] as number)) return time.sort();
  return time;
}
