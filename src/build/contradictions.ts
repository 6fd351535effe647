/**
 * Accepted entries held against a recording: what it contradicts, each in one sentence that names what was accepted and what
 * the recording shows instead. Nothing is said of entries that the recording does not have.
 */
import { bytesNeeded, fieldReader } from '../can/bits.ts';
import { formatId } from '../can/frame.ts';
import { groupByMessage } from '../capture/select.ts';
import type { Capture } from '../capture/store.ts';
import { verifyCounter } from '../dictionary/counter.ts';
import { decodeSignal } from '../dictionary/decode.ts';
import type { Message, Signal } from '../dictionary/model.ts';
import { verifyCheck } from '../dictionary/verify.ts';
import { type Cue, rankCues } from '../findings/cues/index.ts';
import type { FoundMessage } from '../findings/model.ts';
import type { Build } from './model.ts';

export interface Contradiction {
  /** Name of the bus. */
  bus: string;
  id: number;
  extended: boolean;
  /** Name of the message. */
  message: string;
  field: 'signal' | 'counter' | 'check' | 'message';
  /** Name of the signal; empty for the others. */
  name: string;
  /** Place of the field; null for the message as a whole. */
  place: { start: number; length: number; selectorValue: number | null } | null;
  /** File name of the recording. */
  capture: string;
  /** "accepted as at most 90 °; in drive-2.pcapng 12 of 4,000 values are above, the first 93.5 ° at 3.21 s" */
  text: string;
}

export interface Recorded {
  name: string;
  capture: Capture;
  /** What was done in it; empty where no sheet speaks of it. */
  cues: readonly Cue[];
}

/** Frames (or steps) below which nothing is said. Common practice, no source. */
const LEAST = 20;
/** Share of frames whose check may fail, and of steps that a counter may miss: lost frames are no contradiction. Common practice, no source. */
const CHECK_FAILS = 0.001;
const COUNTER_MISSES = 0.1;
/** Share by which the median gap may differ from the accepted period. Common practice, no source. */
const PERIOD_OFF = 0.3;
/** Times a cue has to be done before its silence says anything, and the chance from which on a signal is said not to follow. */
const LEAST_CUES = 3;
const FOLLOWS_NOT = 0.2;

/** @throws the reason of `signal` when it is aborted. */
export async function contradictionsIn(
  build: Pick<Build, 'buses' | 'dictionaries'>,
  recorded: Recorded,
  { signal }: { signal?: AbortSignal } = {},
): Promise<Contradiction[]> {
  const found: Contradiction[] = [];
  const groups = groupByMessage(recorded.capture);
  for (const dictionary of build.dictionaries) {
    const number = build.buses.find((b) => b.name === dictionary.bus)?.number;
    if (number === undefined) continue;
    for (const message of dictionary.messages) {
      signal?.throwIfAborted();
      const frames = groups.find(
        (g) => g.bus === number && g.id === message.id && g.extended === message.extended,
      )?.frames;
      if (frames === undefined || frames.length < LEAST) continue;
      const about = {
        bus: dictionary.bus,
        id: message.id,
        extended: message.extended,
        message: message.name,
      };
      const say = (
        field: Contradiction['field'],
        place: Contradiction['place'],
        name: string,
        [accepted, shown]: [string, string],
      ) => {
        const text = `accepted ${accepted}; in ${recorded.name} ${shown}`;
        found.push({ ...about, field, name, place, capture: recorded.name, text });
      };
      const period = periodWords(recorded.capture, frames, message);
      if (period) say('message', null, '', period);
      const check = checkWords(recorded.capture, frames, message);
      if (check && message.check) say('check', placeOf(message.check), '', check);
      const counter = counterWords(recorded.capture, frames, message);
      if (counter && message.counter) say('counter', placeOf(message.counter), '', counter);
      for (const entry of message.signals.filter((s) => s.state === 'accepted')) {
        const place = { ...placeOf(entry), selectorValue: entry.selectorValue ?? null };
        const words = valueWords(recorded.capture, frames, message, entry);
        if (words) say('signal', place, entry.name, words);
        const follows = await cueWords(recorded, number, frames, message, entry, signal);
        for (const cue of follows) say('signal', place, entry.name, cue);
      }
      // A turn for the rest of the program between messages.
      await new Promise((resolve) => setTimeout(resolve, 0));
    }
  }
  return found;
}

/** "chassis, message 1A0 wheels, signal speed: accepted …" */
export function contradictionSentence({
  bus,
  id,
  extended,
  message,
  field,
  name,
  text,
}: Contradiction): string {
  const what = field === 'message' ? '' : field === 'signal' ? `, signal ${name}` : `, ${field}`;
  return `bus ${bus}, message ${formatId(id, extended)} ${message}${what}: ${text}`;
}

type Words = [accepted: string, shown: string] | null;

function placeOf({ start, length }: { start: number; length: number }) {
  return { start, length, selectorValue: null };
}

function periodWords({ time }: Capture, frames: Uint32Array, { periodMs }: Message): Words {
  if (periodMs === null) return null;
  const gaps = Float64Array.from(
    frames.subarray(1),
    (f, i) => (time[f] as number) - (time[frames[i] as number] as number),
  );
  const median = 1000 * (gaps.sort()[gaps.length >> 1] as number);
  if (Math.abs(median - periodMs) <= PERIOD_OFF * periodMs) return null;
  return [
    `with a period of ${figure(periodMs)} ms`,
    `half of its gaps are longer than ${figure(median)} ms, half shorter`,
  ];
}

function checkWords(capture: Capture, frames: Uint32Array, message: Message): Words {
  const report = verifyCheck(capture, frames, message);
  if (report === null || report.frames < LEAST) return null;
  const wrong = report.frames - report.agree;
  if (wrong <= Math.max(1, CHECK_FAILS * report.frames)) return null;
  return [
    'as a check of every frame',
    `${grouped(wrong)} of ${grouped(report.frames)} frames disagree, the first at ${seconds(capture, report.firstWrong)}`,
  ];
}

function counterWords(capture: Capture, frames: Uint32Array, { counter }: Message): Words {
  if (!counter) return null;
  const { steps, agree, firstBreak } = verifyCounter(capture, frames, counter);
  if (steps < LEAST || steps - agree <= COUNTER_MISSES * steps) return null;
  const step = counter.step < 0 ? `−${-counter.step}` : `+${counter.step}`;
  return [
    `as a counter in steps of ${step}`,
    `${grouped(steps - agree)} of ${grouped(steps)} steps are others, the first at ${seconds(capture, firstBreak)}`,
  ];
}

function valueWords(capture: Capture, frames: Uint32Array, message: Message, entry: Signal): Words {
  const { time, value, tooShort } = decodeSignal(capture, frames, message, entry);
  if (value.length === 0 && tooShort >= LEAST)
    return [
      `at bit ${entry.start}, ${entry.length} long`,
      `all ${grouped(tooShort)} frames are too short for it`,
    ];
  const { min, max, unit } = entry;
  if (min === undefined && max === undefined) return null;
  let outside = 0;
  let first = -1;
  for (let i = 0; i < value.length; i++) {
    const v = value[i] as number;
    if ((min !== undefined && v < min) || (max !== undefined && v > max)) {
      outside++;
      if (first < 0) first = i;
    }
  }
  if (first < 0) return null;
  const of = unit ? ` ${unit}` : '';
  const range =
    min === undefined
      ? `at most ${figure(max as number)}`
      : max === undefined
        ? `at least ${figure(min)}`
        : `${figure(min)} … ${figure(max)}`;
  return [
    `as ${range}${of}`,
    `${grouped(outside)} of ${grouped(value.length)} values lie outside, the first ${figure(value[first] as number)}${of} at ${(time[first] as number).toFixed(2)} s`,
  ];
}

/** Cues that the entry followed where it was accepted, which were done here and which it does not follow. */
async function cueWords(
  recorded: Recorded,
  bus: number,
  frames: Uint32Array,
  message: Message,
  entry: Signal,
  signal: AbortSignal | undefined,
): Promise<[string, string][]> {
  const followed = (entry.evidence ?? []).filter(
    (e) => e.cue !== undefined && !e.capture?.split(', ').includes(recorded.name),
  );
  // Between the frames of other layouts the ranking would read other bits.
  if (followed.length === 0 || recorded.cues.length === 0 || entry.selectorValue !== undefined) return [];
  const as = asFound(recorded.capture, bus, frames, message, entry);
  const ranked = await rankCues([recorded], { messages: [as] }, { keep: 1, ...(signal && { signal }) });
  return followed.flatMap(({ cue, capture }): [string, string][] => {
    const now = ranked.find(({ name }) => name === cue);
    if (now === undefined || now.repeats < LEAST_CUES) return [];
    const chance = now.candidates[0]?.pAlone ?? 1;
    if (chance < FOLLOWS_NOT) return [];
    const how =
      now.candidates.length === 0
        ? 'it never moved'
        : `it did not follow: by chance alone it would agree as well in ${Math.round(100 * chance)} of 100 cases`;
    return [
      [
        `as moved by “${cue}” in ${capture ?? 'a recording'}`,
        `that was done ${now.repeats} times and ${how}`,
      ],
    ];
  });
}

/** The entry as findings would hand it over, so that the cues rank this one signal alone. */
function asFound(
  capture: Capture,
  bus: number,
  frames: Uint32Array,
  message: Message,
  entry: Signal,
): FoundMessage {
  const { start, length, byteOrder, signed, scale, offset, unit } = entry;
  const flipRate = new Float64Array(8 * message.length);
  const read = fieldReader(entry);
  const long = frames.filter((f) => (capture.length[f] as number) >= bytesNeeded(entry));
  const first = long[0];
  const moves =
    first !== undefined &&
    long.some(
      (f) =>
        read(capture.payload, capture.offset[f] as number) !==
        read(capture.payload, capture.offset[first] as number),
    );
  if (moves) flipRate.fill(1);
  return {
    bus,
    id: message.id,
    extended: message.extended,
    length: message.length,
    frames: frames.length,
    periodMs: message.periodMs,
    jitterMs: null,
    timing: 'periodic',
    missing: null,
    outages: [],
    flipRate,
    signals: [
      {
        start,
        length,
        byteOrder,
        signed,
        kind: length === 1 ? 'flag' : 'number',
        scale,
        offset,
        unit,
        selectorValue: entry.selectorValue ?? null,
        probability: 1,
        evidence: [],
      },
    ],
    counter: null,
    check: null,
    selector: null,
    open: [],
  };
}

function seconds(capture: Capture, frame: number): string {
  return `${(capture.time[frame] ?? 0).toFixed(2)} s`;
}

function figure(x: number): string {
  return Number(x.toPrecision(4)).toString().replace('-', '−');
}

function grouped(n: number): string {
  return n.toLocaleString('en');
}
