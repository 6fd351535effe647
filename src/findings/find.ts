/**
 * Everything that a capture tells about its messages: timing, counters, check fields and the cut of the rest. Messages
 * of one bus are settled together, because they share polynomials, constants and byte order; what each message needs by
 * itself (messageWork.ts) can be done here or in other threads.
 */
import { groupByMessage } from '../capture/select.ts';
import type { Capture } from '../capture/store.ts';
import { searchesAgain, settleChecks } from './check.ts';
import type { CheckSearch } from './checkSearch.ts';
import { findSharedCounters } from './counterShared.ts';
import { cappedCounter, cappedFields, ceilingsOf } from './enough.ts';
import {
  type AgainTask,
  type Drafted,
  type DraftTask,
  type MessageResult,
  type MessageTask,
  messageSteps,
  type Searched,
  type SearchTask,
} from './messageWork.ts';
import type { Findings, FoundCheck, FoundMessage, FoundSignal } from './model.ts';
import { selectorOf } from './multiplexorLayouts.ts';
import { openQuestions, type RecordingNotes } from './open.ts';
import { withoutRepeats } from './repeats.ts';
import { type Allocate, type MessageRows, messageRows, sessionsOf } from './rows.ts';
import { type BusStyle, busStyle, cutMessage, type Draft, stayingStill } from './segment.ts';
import { type Senders, senderSteps } from './senders/index.ts';
import { inSteps, type StepOptions } from './steps.ts';

export interface FindOptions {
  /** Buses to look at; all where absent. */
  buses?: readonly number[];
}

/**
 * Findings of a capture. Gives the rest of the program a turn between messages.
 * @throws the reason of `signal` when it is aborted.
 */
export async function findAll(capture: Capture, options: FindOptions & StepOptions = {}): Promise<Findings> {
  return inSteps(findSteps(capture, options), options);
}

/** The same in steps of a message or, of long payloads, less; yields the share that is done. */
export function* findSteps(capture: Capture, options: FindOptions = {}): Generator<number, Findings> {
  const plan = findPlan(capture, options);
  let asked = plan.next();
  while (!asked.done) {
    const { value } = asked;
    if (value.ask === 'turn') {
      yield value.to;
      asked = plan.next();
    } else if (value.ask === 'senders')
      asked = plan.next(yield* within(value, senderSteps(capture, options)));
    else asked = plan.next(yield* within(value, allOf(value.tasks)));
  }
  return asked.value;
}

/** What the plan cannot go on without; `from` … `to` is the share of the whole that it makes up. */
export type FindRequest = { from: number; to: number } & (
  | { ask: 'messages'; tasks: readonly MessageTask[] }
  | { ask: 'senders' }
  | { ask: 'turn' }
);

export interface PlanOptions extends FindOptions {
  /** Memory for the rows of messages; threads need it shared. */
  allocate?: Allocate;
}

/**
 * The order of work: each request is answered with the results of its tasks in their order, with the senders, or with
 * nothing. Whoever answers may do tasks at once or elsewhere; what comes out is the same.
 */
export function* findPlan(
  capture: Capture,
  options: PlanOptions = {},
): Generator<FindRequest, Findings, MessageResult[] | Senders | undefined> {
  const { all, notes } = yield* rowsOf(capture, options);
  const found: FoundMessage[] = [];
  let done = 0;
  for (const bus of new Set(all.map((rows) => rows.bus))) {
    const works = all.filter((rows) => rows.bus === bus);
    const share = (part: number) =>
      ROWS_SHARE + ((1 - ROWS_SHARE - SENDER_SHARE) * (done + part * works.length)) / all.length;
    yield { ask: 'turn', from: share(0), to: share(0) };
    const common = findSharedCounters(works);
    const sharedOf = (k: number) => common.get(k) ?? null;
    const searching = works.map((rows, k): SearchTask => ({ kind: 'search', rows, shared: sharedOf(k) }));
    const searched = (yield {
      ask: 'messages',
      tasks: searching,
      from: share(0),
      to: share(SEARCH_SHARE),
    }) as Searched[];
    const searches = searched.map(({ search }) => search);
    const again = searchesAgain(searches);
    const second = (yield {
      ask: 'messages',
      tasks: again.map(({ index, ...how }): AgainTask => {
        const { rows, counters } = searches[index] as CheckSearch;
        return { kind: 'again', rows, counters, ...how };
      }),
      from: share(SEARCH_SHARE),
      to: share(AGAIN_SHARE),
    }) as CheckSearch[];
    const settled = settleChecks(
      searches,
      new Map(again.map(({ index }, k) => [index, second[k] as CheckSearch])),
    );
    const drafting = works.map((rows, k): DraftTask => {
      const { timing } = searched[k] as Searched;
      const { check, counter } = settled[k] as Pick<DraftTask, 'check' | 'counter'>;
      return { kind: 'draft', rows, timing, shared: sharedOf(k), check, counter };
    });
    const drafted = (yield {
      ask: 'messages',
      tasks: drafting,
      from: share(AGAIN_SHARE),
      to: share(CUT_SHARE),
    }) as Drafted[];
    const drafts = drafted.flatMap(({ layouts }) => layouts.flatMap(({ draft }) => draft ?? []));
    const style = busStyle(drafts);
    const stays = stayingStill(works);
    for (const [k, rows] of works.entries()) {
      yield { ask: 'turn', from: share(CUT_SHARE), to: share(CUT_SHARE) };
      const work = { ...(searched[k] as Searched), ...(drafted[k] as Drafted) };
      const { check, open } = settled[k] as { check: FoundCheck | null; open: string[] };
      const signals = signalsOf(work, drafts, style, stays);
      found.push(finished(rows, { ...work, check, open: [...open, ...work.open] }, signals, notes));
    }
    done += works.length;
  }
  const senders = (yield { ask: 'senders', from: 1 - SENDER_SHARE, to: 1 }) as Senders;
  return { frames: capture.count, seconds: secondsOf(capture), messages: found, senders };
}

/** Shares of the work, for progress only: of the whole, and inside a bus up to where each part ends. */
const ROWS_SHARE = 0.02;
const SENDER_SHARE = 0.1;
const SEARCH_SHARE = 0.15;
const AGAIN_SHARE = 0.2;
const CUT_SHARE = 0.98;

function* rowsOf(
  capture: Capture,
  { buses, allocate }: PlanOptions,
): Generator<FindRequest, { all: MessageRows[]; notes: RecordingNotes }, unknown> {
  const sessions = sessionsOf(capture);
  const groups = groupByMessage(capture).filter((m) => buses?.includes(m.bus) ?? true);
  const rows: MessageRows[] = [];
  for (const group of groups) {
    const share = (ROWS_SHARE * rows.length) / groups.length;
    yield { ask: 'turn', from: share, to: share };
    rows.push(messageRows(capture, group, sessions, allocate));
  }
  const { messages, note } = withoutRepeats(rows);
  const breaks = note === null ? (sessions[capture.count - 1] ?? 0) : 0;
  const notes = {
    seconds: note === null ? secondsOf(capture) : secondsIn(messages),
    breaks,
    backwards: note === null ? setBack(capture, sessions) : 0,
    repeats: note,
  };
  return { all: messages, notes };
}

/** All tasks, one after the other. */
function* allOf(tasks: readonly MessageTask[]): Generator<number, MessageResult[]> {
  const results: MessageResult[] = [];
  for (const [k, task] of tasks.entries()) {
    results.push(yield* within({ from: k / tasks.length, to: (k + 1) / tasks.length }, messageSteps(task)));
    yield (k + 1) / tasks.length;
  }
  return results;
}

function* within<T>(
  { from, to }: { from: number; to: number },
  steps: Generator<number, T>,
): Generator<number, T> {
  for (;;) {
    const step = steps.next();
    if (step.done) return step.value;
    yield from + (to - from) * step.value;
  }
}

function signalsOf(
  { layouts }: Drafted,
  drafts: readonly Draft[],
  style: BusStyle,
  stays: number,
): FoundSignal[] {
  return layouts.flatMap(({ draft, selectorValue }) =>
    draft ? cutMessage(draft, style, drafts.indexOf(draft), stays).map((s) => ({ ...s, selectorValue })) : [],
  );
}

function finished(
  rows: MessageRows,
  work: Searched & Drafted & { check: FoundCheck | null },
  signals: FoundMessage['signals'],
  notes: RecordingNotes,
): FoundMessage {
  const { timing, flipRate, check, multiplexor, open } = work;
  const ceilings = ceilingsOf(rows, notes);
  const message = {
    bus: rows.bus,
    id: rows.id,
    extended: rows.extended,
    length: rows.length,
    frames: rows.count + rows.otherLength,
    ...timing,
    flipRate,
    signals: cappedFields(signals, ceilings),
    counter: cappedCounter(work.counter, ceilings),
    check,
    selector: multiplexor && selectorOf(multiplexor),
  };
  return { ...message, open: [...openQuestions(rows, message, notes), ...open] };
}

/** Places at which the clock was set back. */
function setBack({ time, count }: Capture, sessions: Uint32Array): number {
  let places = 0;
  for (let i = 1; i < count; i++)
    if (sessions[i] !== sessions[i - 1] && (time[i] as number) < (time[i - 1] as number)) places++;
  return places;
}

/** From the first to the last of the frames that are left. */
function secondsIn(messages: readonly MessageRows[]): number {
  const some = messages.filter(({ count }) => count > 0);
  const first = some.reduce((low, { time }) => Math.min(low, time[0] as number), Number.POSITIVE_INFINITY);
  const last = some.reduce(
    (high, { time, count }) => Math.max(high, time[count - 1] as number),
    Number.NEGATIVE_INFINITY,
  );
  return Math.max(0, last - first);
}

function secondsOf(capture: Capture): number {
  let first = Number.POSITIVE_INFINITY;
  let last = Number.NEGATIVE_INFINITY;
  for (const t of capture.time) {
    if (t < first) first = t;
    if (t > last) last = t;
  }
  return last > first ? last - first : 0;
}
