/**
 * Recordings that hold the same frames twice: every frame doubled (a recorder that logs its own echo), or a recording
 * joined to itself. The copies would count as evidence, so they are left out, and it is said that they were.
 */
import type { MessageRows } from './rows.ts';

export interface WithoutRepeats {
  messages: MessageRows[];
  /** What was left out, in one sentence; null where nothing was. */
  note: string | null;
}

/** Share of the messages of a recording that must show the same repetition. */
const MOST_MESSAGES = 0.9;
/** Messages with fewer frames do not take part in the judgement. */
const FRAMES_TO_JUDGE = 8;

export function withoutRepeats(messages: MessageRows[]): WithoutRepeats {
  const judged = messages.filter((rows) => rows.count >= FRAMES_TO_JUDGE);
  const most = (test: (rows: MessageRows) => boolean) =>
    judged.length > 0 && judged.filter(test).length >= MOST_MESSAGES * judged.length;
  if (most(secondHalfRepeats)) {
    return {
      messages: messages.map((rows) =>
        secondHalfRepeats(rows) ? keep(rows, (i) => i < rows.count / 2) : rows,
      ),
      note: 'The recording holds the same frames twice over; the second half was left out. The copy adds nothing: where that is not enough to tell, another recording does, with things moved that stood still here.',
    };
  }
  if (most(everyFrameTwice)) {
    return {
      messages: messages.map((rows) => (everyFrameTwice(rows) ? keep(rows, (i) => !echoes(rows, i)) : rows)),
      note: 'The recording holds every frame twice in quick succession; the copies were left out. Where the rest is not enough to tell, record again with the echo of sent frames turned off.',
    };
  }
  return { messages, note: null };
}

function secondHalfRepeats(rows: MessageRows): boolean {
  const half = rows.count / 2;
  if (!Number.isInteger(half) || !rows.begins[half]) return false;
  const size = half * rows.length;
  for (let at = 0; at < size; at++) if (rows.payload[at] !== rows.payload[size + at]) return false;
  return true;
}

function everyFrameTwice(rows: MessageRows): boolean {
  let copies = 0;
  for (let i = 1; i < rows.count; i++) if (echoes(rows, i)) copies++;
  return copies >= 0.45 * rows.count && copies <= 0.5 * rows.count;
}

/** The same payload as the frame before, in a tenth of the time that usually passes between different sendings. */
function echoes(rows: MessageRows, i: number): boolean {
  if (rows.begins[i] || i < 1) return false;
  const { payload, length, time } = rows;
  for (let b = 0; b < length; b++)
    if (payload[i * length + b] !== payload[(i - 1) * length + b]) return false;
  const mean = ((time[rows.count - 1] as number) - (time[0] as number)) / rows.count;
  return (time[i] as number) - (time[i - 1] as number) < 0.1 * mean;
}

function keep(rows: MessageRows, wanted: (i: number) => boolean): MessageRows {
  const { length } = rows;
  const kept = Array.from({ length: rows.count }, (_, i) => i).filter(wanted);
  const payload = new Uint8Array(kept.length * length);
  kept.forEach((i, k) => {
    payload.set(rows.payload.subarray(i * length, (i + 1) * length), k * length);
  });
  return {
    ...rows,
    count: kept.length,
    payload,
    time: Float64Array.from(kept, (i) => rows.time[i] as number),
    begins: Uint8Array.from(kept, (i) => rows.begins[i] as number),
  };
}
