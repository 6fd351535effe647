/** What a recording does not tell about a message, and the recording that would. */
import { COUNTER_STEPS } from './counter.ts';
import { interleavedContents } from './interleaved.ts';
import type { FoundMessage } from './model.ts';
import type { MessageRows } from './rows.ts';
import { FRAMES_TO_CUT } from './segment.ts';
import { counted, several } from './words.ts';

/** Recordings shorter than this, in seconds, are said to be short. */
const SHORT_S = 18;
/** Fewer frames than this do not let the cut be stated surely (enough.ts). */
const FEW_FRAMES = 36;
/** Fewer changes than this do not open a cut between two bits. */
const RARE = 3;

export interface RecordingNotes {
  seconds: number;
  /** Times the clock ran backwards or all traffic paused. */
  breaks: number;
  /** Of these, times the clock was set back. */
  backwards: number;
  repeats: string | null;
}

export function openQuestions(
  rows: MessageRows,
  message: Pick<FoundMessage, 'signals' | 'counter' | 'check' | 'flipRate' | 'timing'>,
  notes: RecordingNotes,
): string[] {
  const open: string[] = [];
  const moving = message.flipRate.reduce((n, rate) => n + (rate > 0 ? 1 : 0), 0);
  if (notes.repeats) open.push(notes.repeats);
  if (rows.otherLength > 0) {
    open.push(
      `${several(rows.otherLength, 'frame')} of other lengths than ${several(rows.length, 'byte')} were left out; they may be a message of their own, or a diagnostic answer. Not enough to tell which bytes mean the same in all of them: record again with nothing plugged in that asks for data.`,
    );
  }
  if (rows.length === 0) open.push('The frames carry no payload: there is nothing to find in them.');
  else if (rows.count < FRAMES_TO_CUT) {
    open.push(
      `Only ${several(rows.count, 'frame')}: not enough to tell fields, counter or check; at least ${FRAMES_TO_CUT} are needed and some hundreds are better, so record for longer, or provoke what makes the unit send it.`,
    );
  } else if (moving === 0) {
    open.push(
      `The payload never changed in ${several(rows.count, 'frame')}: not enough to tell anything about its fields; record while whatever it may carry is moved through its range, ignition off and on included.`,
    );
  } else {
    if (rows.count <= COUNTER_STEPS)
      open.push(`${several(rows.count, 'frame')} are too few to tell a counter; record for longer.`);
    if (notes.seconds < SHORT_S) {
      open.push(
        `Recorded for ${notes.seconds.toFixed(1)} s only: slow signals and rare flips cannot have shown, which is not enough to tell where fields end; record a minute or more of varied driving, or sweep one thing at a time (turn the wheel slowly from lock to lock for 20 s).`,
      );
    } else if (rows.count < FEW_FRAMES)
      open.push(
        `${several(rows.count, 'frame')} are not enough to tell where fields end; record for ten times as long, or provoke what makes the unit send it.`,
      );
    open.push(...fieldQuestions(rows, message));
    const contents = interleavedContents(rows);
    if (contents > 0) {
      open.push(
        `The frames alternate between ${several(contents, 'content')}, so all bits that differ flip together and nothing tells which belong together: several units may send under this identifier, or one in turn for several things. The fields are cut at byte edges, a guess; record while one of the quantities changes.`,
      );
    }
  }
  if (notes.breaks > 0 && rows.count >= FRAMES_TO_CUT) {
    open.push(
      `The clock runs backwards or all traffic pauses at ${several(notes.breaks, 'place')}; frames were not compared across ${notes.breaks === 1 ? 'it' : 'them'}.${notes.backwards > 0 ? ' Not enough to tell whether frames are missing there: record once more without stopping, with stamps from one clock.' : ''}`,
    );
  }
  return open;
}

function fieldQuestions(rows: MessageRows, message: Pick<FoundMessage, 'signals' | 'flipRate'>): string[] {
  const open: string[] = [];
  const unsettled = message.signals.filter(
    ({ kind, signed, length }) => kind === 'number' && !signed && length >= 3,
  );
  const oneByte = unsettled.filter((s) => s.byteOrder === 'little' && s.start % 8 === 0 && s.length === 8);
  if (oneByte.length > 0) {
    open.push(
      `${placesOf(oneByte)}: whether the neighbouring byte belongs to it, and in which order, shows only when it rolls over; sweep the quantity slowly over more than 256 steps, both ways.`,
    );
  }
  const rare = message.signals.filter(
    (s) =>
      s.kind !== 'constant' && (message.flipRate[s.start] as number) * rows.count <= RARE && s.length > 1,
  );
  if (rare.length > 0) {
    open.push(
      `${placesOf(rare)}: changed ${counted(RARE)} times or less, so its edges are a guess; move one thing at a time, three times each.`,
    );
  }
  return open;
}

function placesOf(fields: readonly { start: number; length: number }[]): string {
  const names = fields.map(({ start, length }) =>
    length === 1 ? `bit ${start}` : `${length} bits at ${start}`,
  );
  const text = names.join(', ');
  return text.charAt(0).toUpperCase() + text.slice(1);
}
