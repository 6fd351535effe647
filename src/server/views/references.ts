/** The reference channels of a capture, and one of them laid over a signal. */
import type { Build, Reference } from '../../build/model.ts';
import { clockEntry } from '../../build/reference/accept.ts';
import { type ClockKnown, captureTimes, clockOf } from '../../build/reference/clock.ts';
import { signalNames } from '../../build/reference/signal.ts';
import type { Alignment, NoAlignment } from '../../capture/reference/align.ts';
import type { TimedValues } from '../../capture/reference/sampled.ts';

/** `GET /api/captures/:name/references`, and the reply to accept. */
export interface ReferencesReply {
  capture: string;
  channels: {
    name: string;
    /** Path of its file in the build. */
    path: string;
    unit: string;
    /** Readings, and the time between the first and the last; 0 where the data cannot be used (the build's problems say why). */
    values: number;
    seconds: number;
    /** How its times were read. */
    guess: string;
    clock: Omit<ClockKnown, 'offsetS'> & {
      /** null where nothing ties the two clocks. */
      offsetS: number | null;
      /** Half the 95 % interval, signal and time of acceptance where they are known. */
      halfS: number | null;
      signal: string | null;
      accepted: string | null;
    };
  }[];
  /** Accepted signals that a channel can be held against. */
  signals: string[];
}

/** A line with gaps: null between stretches that are not known. */
export interface Curve {
  time: number[];
  value: (number | null)[];
}

/**
 * `GET /api/captures/:name/references/alignment?channel=…&signal=…`, optional `relation` (either, together, opposite) and
 * `near` in seconds with `within` (default 10).
 */
export interface AlignmentReply {
  channel: string;
  unit: string;
  signal: string;
  /** Why there is none; then `found` and `curves` are null. */
  reason: string | null;
  found: (Alignment & { /** What accepting would write. */ clock: Record<string, string | number> }) | null;
  /** Both over the time of the capture, the signal brought to the scale of the reference; at most 1,200 points each. */
  curves: { reference: Curve; signal: Curve } | null;
}

/** `POST /api/captures/:name/references/accept`: the alignment that was seen; refused where it comes out otherwise now. */
export interface AcceptClockRequest {
  channel: string;
  signal: string;
  relation?: 'either' | 'together' | 'opposite';
  near?: number;
  within?: number;
  /** `found.offsetS` of the reply that was looked at. */
  offsetS: number;
}

const POINTS = 1200;

export function referencesView(build: Build, capture: string, originNs: bigint): ReferencesReply {
  const own = build.references.filter(({ file }) => file.capture === capture);
  return {
    capture,
    channels: own.map((reference) => {
      const { file, path, series, guess } = reference;
      const times = series?.timeS ?? new Float64Array();
      const clock = clockOf(reference, originNs);
      return {
        name: file.name,
        path,
        unit: series?.unit ?? file.unit,
        values: series?.value.filter((v) => !Number.isNaN(v)).length ?? 0,
        seconds: times.length > 0 ? (times[times.length - 1] as number) - (times[0] as number) : 0,
        guess,
        clock: {
          ...clock,
          offsetS: Number.isNaN(clock.offsetS) ? null : clock.offsetS,
          halfS: file.clock?.offsetHalfS ?? null,
          signal: file.clock?.signal ?? null,
          accepted: file.clock?.accepted ?? null,
        },
      };
    }),
    signals: signalNames(build),
  };
}

export function alignmentView(
  { file, series }: Reference,
  signal: { words: string; series: TimedValues },
  result: Alignment | NoAlignment,
  acceptedIso: string,
): AlignmentReply {
  const head = { channel: file.name, unit: series?.unit ?? file.unit, signal: signal.words };
  if ('reason' in result || series === null)
    return {
      ...head,
      reason: 'reason' in result ? result.reason : 'its data cannot be used',
      found: null,
      curves: null,
    };
  const { offsetS, driftPpm, slope, intercept } = result;
  const own = captureTimes(series.timeS, { state: 'accepted', offsetS, driftPpm });
  const { timeS, value } = signal.series;
  // A minute beside the overlap is enough to see where each of the two ends.
  const [from, to] = [(own[0] ?? 0) - 60, (own[own.length - 1] ?? 0) + 60];
  const scaled = Float64Array.from(value, (v) => intercept + slope * v);
  return {
    ...head,
    reason: null,
    found: { ...result, clock: clockEntry(result, signal.words, acceptedIso) },
    curves: {
      reference: thinned(own, series.value, (timeS[0] ?? 0) - 60, (timeS[timeS.length - 1] ?? 0) + 60),
      signal: thinned(timeS, scaled, from, to),
    },
  };
}

/** Means over equal stretches of time; a stretch without a value breaks the line where the values before come more often. */
function thinned(time: ArrayLike<number>, value: ArrayLike<number>, from: number, to: number): Curve {
  const inside: number[] = [];
  for (let i = 0; i < time.length; i++) if (time[i]! >= from && time[i]! <= to) inside.push(i);
  const curve: Curve = { time: [], value: [] };
  if (inside.length === 0) return curve;
  const first = time[inside[0]!]!;
  const width = Math.max((time[inside[inside.length - 1]!]! - first) / POINTS, 1e-6);
  let [bin, sum, at, count, unknown] = [-1, 0, 0, 0, 0];
  const flush = () => {
    if (count > 0) {
      curve.time.push(at / count);
      curve.value.push(sum / count);
    } else if (unknown > 0 && curve.value.at(-1) !== null) {
      curve.time.push(first + (bin + 0.5) * width);
      curve.value.push(null);
    }
    [sum, at, count, unknown] = [0, 0, 0, 0];
  };
  for (const i of inside) {
    const b = Math.min(POINTS - 1, Math.floor((time[i]! - first) / width));
    if (b !== bin) flush();
    bin = b;
    if (Number.isNaN(value[i]!)) unknown++;
    else {
      sum += value[i]!;
      at += time[i]!;
      count++;
    }
  }
  flush();
  return curve;
}
