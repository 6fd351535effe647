/** Pairs requests for a parameter group (J1939, NMEA 2000) with the group itself, an acknowledgement, or silence. */
import { FLAG } from '../../can/frame.ts';
import { j1939Parts } from '../../can/j1939.ts';
import {
  ACKNOWLEDGEMENT,
  ACKNOWLEDGEMENTS,
  ANSWER_DUE_S,
  ANSWER_WAIT_S,
  acknowledgementIn,
  PARAMETER_REQUEST,
  requestedGroup,
} from '../../can/parameterRequest.ts';
import type { Capture } from '../store.ts';
import type { Transfers } from './transfers.ts';

/** `cutOff`: the recording ends while an answer could still come. */
export type RequestOutcome = 'answered' | (typeof ACKNOWLEDGEMENTS)[number] | 'silent' | 'cutOff';

export interface GroupRequest {
  bus: number;
  /** Frame of the request. */
  frame: number;
  group: number;
  /** Address that asks, and address asked; 255 = all. */
  from: number;
  to: number;
  outcome: RequestOutcome;
  /** Address that answered, −1 for none. */
  by: number;
  /** Frame in which the answer came or began, −1 for none. */
  answer: number;
  /** Place in `Transfers` where the answer came in several frames, else −1. */
  transfer: number;
  /** From the request to the start of the answer, seconds; NaN without one. */
  delayS: number;
  /** Whether the same unit also sends the group without being asked: the answer may be one of those. */
  alsoUnasked: boolean;
}

/**
 * In the order of the requests; a request to all has one entry for each unit that answered. A unit that is asked the same
 * again before it answered has left the first request silent.
 */
export function groupRequestsOf(capture: Capture, transfers: Transfers): GroupRequest[] {
  const asked = askedGroups(capture);
  if (asked === null) return [];
  const begun = beginnings(transfers, asked);
  const rows: GroupRequest[] = [];
  const waiting: WaitingBook = new Map();
  const sent = new Map<number, { count: number; answers: number }>();

  const answer = (
    frame: number,
    by: number,
    group: number,
    to: number,
    outcome: RequestOutcome,
    transfer: number,
  ) => {
    const place = placeOf(capture.bus[frame] as number, group);
    const came = { frame, timeS: capture.time[frame] as number, by, to, outcome, transfer };
    // What was asked of this unit, and of all.
    const met = [by, 255].map((asked) => settle(waiting.get(place * 256 + asked), came, rows));
    if (outcome !== 'answered') return;
    const key = place * 256 + by;
    const seen = sent.get(key) ?? { count: 0, answers: 0 };
    sent.set(key, seen);
    seen.count++;
    if (met.includes(true)) seen.answers++;
  };

  for (let i = 0; i < capture.count; i++) {
    const flags = capture.flags[i] as number;
    if ((flags & (FLAG.extended | FLAG.remote | FLAG.error)) !== FLAG.extended) continue;
    const transfer = begun.get(i);
    const { parameterGroup, source, destination } = j1939Parts(capture.id[i] as number);
    if (transfer !== undefined) {
      answer(i, source, transfers.group[transfer] as number, destination, 'answered', transfer);
      continue;
    }
    const from = capture.offset[i] as number;
    const length = capture.length[i] as number;
    if (parameterGroup === PARAMETER_REQUEST << 8) {
      const group = requestedGroup(capture.payload, from, length);
      if (group >= 0) ask(capture, i, group, source, destination, rows, waiting);
    } else if (parameterGroup === ACKNOWLEDGEMENT << 8) {
      const told = acknowledgementIn(capture.payload, from, length);
      // Sent to all, it names the asker in its payload.
      if (told && asked.has(told.group)) {
        const to = destination === 255 ? told.asker : destination;
        answer(i, source, told.group, to, ACKNOWLEDGEMENTS[told.control] as RequestOutcome, -1);
      }
    } else if (asked.has(parameterGroup)) answer(i, source, parameterGroup, destination, 'answered', -1);
  }

  const endS = latest(capture.time);
  for (const row of rows) {
    if (row.by >= 0) {
      const seen = sent.get(placeOf(row.bus, row.group) * 256 + row.by);
      row.alsoUnasked = seen !== undefined && seen.count > seen.answers;
    } else if (endS - (capture.time[row.frame] as number) < ANSWER_WAIT_S && stillWaits(waiting, row)) {
      row.outcome = 'cutOff';
    }
  }
  return rows.sort((a, b) => a.frame - b.frame || a.answer - b.answer);
}

interface Waiting {
  row: GroupRequest;
  sinceS: number;
  answered: Set<number>;
}

/** By bus, group and the address asked, then by the address that asks: an answer is looked up, not searched. */
type WaitingBook = Map<number, Map<number, Waiting>>;

interface Came {
  frame: number;
  timeS: number;
  by: number;
  to: number;
  outcome: RequestOutcome;
  transfer: number;
}

/** Enters what came with the requests that it answers; whether there was one. */
function settle(asked: Map<number, Waiting> | undefined, came: Came, rows: GroupRequest[]): boolean {
  let met = false;
  for (const [from, { row, sinceS, answered }] of asked ?? []) {
    const delayS = came.timeS - sinceS;
    if (delayS > ANSWER_WAIT_S || delayS < 0) {
      asked?.delete(from);
      continue;
    }
    if (from === came.by || (came.to !== 255 && came.to !== from)) continue;
    if (answered.has(came.by)) {
      // An answer may be several messages of the group, one right after the other.
      if (delayS <= ANSWER_DUE_S) met = true;
      continue;
    }
    answered.add(came.by);
    met = true;
    const entry = answered.size === 1 ? row : { ...row };
    if (entry !== row) rows.push(entry);
    const { by, frame: answer, outcome, transfer } = came;
    Object.assign(entry, { outcome, by, answer, transfer, delayS });
  }
  return met;
}

function ask(
  capture: Capture,
  frame: number,
  group: number,
  from: number,
  to: number,
  rows: GroupRequest[],
  waiting: WaitingBook,
): void {
  const bus = capture.bus[frame] as number;
  const row: GroupRequest = {
    bus,
    frame,
    group,
    from,
    to,
    outcome: 'silent',
    by: -1,
    answer: -1,
    transfer: -1,
    delayS: Number.NaN,
    alsoUnasked: false,
  };
  rows.push(row);
  const place = placeOf(bus, group) * 256 + to;
  const book = waiting.get(place) ?? new Map<number, Waiting>();
  waiting.set(place, book);
  book.set(from, { row, sinceS: capture.time[frame] as number, answered: new Set() });
}

/** Groups that anybody asks for, or null for none: most recordings hold no request, and need no second pass. */
function askedGroups(capture: Capture): Set<number> | null {
  let asked: Set<number> | null = null;
  const { id, flags, payload, offset, length, count } = capture;
  for (let i = 0; i < count; i++) {
    if ((((id[i] as number) >>> 16) & 0x3ff) !== PARAMETER_REQUEST) continue;
    if (((flags[i] as number) & (FLAG.extended | FLAG.remote | FLAG.error)) !== FLAG.extended) continue;
    const group = requestedGroup(payload, offset[i] as number, length[i] as number);
    if (group < 0) continue;
    asked ??= new Set();
    asked.add(group);
  }
  return asked;
}

/** Transfers of these groups by the frame with which they begin. */
function beginnings(transfers: Transfers, asked: ReadonlySet<number>): Map<number, number> {
  const begun = new Map<number, number>();
  for (let k = 0; k < transfers.count; k++) {
    if (asked.has(transfers.group[k] as number)) begun.set(transfers.firstFrame[k] as number, k);
  }
  return begun;
}

function stillWaits(waiting: WaitingBook, { bus, group, from, to, frame }: GroupRequest): boolean {
  return waiting.get(placeOf(bus, group) * 256 + to)?.get(from)?.row.frame === frame;
}

function placeOf(bus: number, group: number): number {
  return bus * 2 ** 18 + group;
}

function latest(time: Float64Array): number {
  let last = Number.NEGATIVE_INFINITY;
  for (const t of time) if (t > last) last = t;
  return last;
}
