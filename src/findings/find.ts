/**
 * Everything that a capture tells about its messages: timing, counters, check fields and the cut of the rest. Messages
 * of one bus are settled together, because they share polynomials, constants and byte order.
 */
import { fieldBits, sharedBits } from '../can/bits.ts';
import { groupByMessage } from '../capture/select.ts';
import type { Capture } from '../capture/store.ts';
import { settleChecks } from './check.ts';
import { type CheckSearch, searchCheck } from './checkSearch.ts';
import { findCounters } from './counter.ts';
import { findSharedCounters } from './counterShared.ts';
import type { Findings, FoundCheck, FoundCounter, FoundMessage, FoundSignal } from './model.ts';
import { findMultiplexor, type Multiplexor } from './multiplexor.ts';
import { layoutsOf, type MessageLayouts, selectorOf } from './multiplexorLayouts.ts';
import { openQuestions, type RecordingNotes } from './open.ts';
import { withoutRepeats } from './repeats.ts';
import { flipRates, type MessageRows, messageRows, sessionsOf } from './rows.ts';
import {
  type BusStyle,
  busStyle,
  cutMessage,
  type Draft,
  draftSteps,
  FRAMES_TO_CUT,
  stayingStill,
} from './segment.ts';
import { senderSteps } from './senders/index.ts';
import { inSteps, type StepOptions } from './steps.ts';
import { type Timing, timingOf } from './timing.ts';

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
  const sessions = sessionsOf(capture);
  const groups = groupByMessage(capture).filter((m) => options.buses?.includes(m.bus) ?? true);
  const { messages: all, note } = withoutRepeats(
    groups.map((group) => messageRows(capture, group, sessions)),
  );
  const notes: RecordingNotes = {
    seconds: secondsOf(capture),
    breaks: note === null ? (sessions[capture.count - 1] ?? 0) : 0,
    repeats: note,
  };
  const total = Math.max(1, all.length) / (1 - SENDER_SHARE);
  const found: FoundMessage[] = [];
  let done = 0;
  for (const bus of new Set(all.map((rows) => rows.bus))) {
    const works = all.filter((rows) => rows.bus === bus).map(workOn);
    for (const [k, shared] of findSharedCounters(works.map(({ rows }) => rows))) {
      (works[k] as Work).shared = shared;
    }
    for (const [k, work] of works.entries()) {
      work.search = searchCheck(work.rows, countersOf(work));
      yield (done + SEARCH_SHARE * (k + 1)) / total;
    }
    const searches = works.map((work) => work.search as CheckSearch);
    settleChecks(searches).forEach((result, k) => {
      const work = works[k] as Work;
      work.check = result.check;
      work.counter = result.counter;
      work.open = result.open;
    });
    for (const [k, work] of works.entries()) {
      takeChecked(work);
      const share = (part: number) =>
        (done + SEARCH_SHARE * works.length + (1 - SEARCH_SHARE) * (k + part)) / total;
      for (const [l, layout] of work.layouts.entries()) {
        if (layout.rows.count < FRAMES_TO_CUT) continue;
        const steps = draftSteps(layout.rows, layout.taken);
        let step = steps.next();
        for (; !step.done; step = steps.next()) yield share((l + step.value) / work.layouts.length);
        layout.draft = step.value;
      }
      yield share(1);
    }
    const drafts = works.flatMap(({ layouts }) => layouts.flatMap(({ draft }) => draft ?? []));
    const style = busStyle(drafts);
    const stays = stayingStill(works.map(({ rows }) => rows));
    for (const work of works) found.push(finished(work, signalsOf(work, drafts, style, stays), notes));
    done += works.length;
  }
  const placing = senderSteps(capture, options);
  let step = placing.next();
  for (; !step.done; step = placing.next()) yield 1 - SENDER_SHARE * (1 - step.value);
  return { frames: capture.count, seconds: notes.seconds, messages: found, senders: step.value };
}

/** Share of the work that the search for counters and checks takes, for progress only. */
const SEARCH_SHARE = 0.2;
/** Share of the work that the senders take, for progress only. */
const SENDER_SHARE = 0.1;

interface Work {
  rows: MessageRows;
  timing: Timing;
  flipRate: Float64Array;
  /** 1 for bits that a counter or a check explains. */
  taken: Uint8Array;
  search: CheckSearch | null;
  check: FoundCheck | null;
  counter: FoundCounter | null;
  /** A counter that runs over other messages too. */
  shared: FoundCounter | null;
  open: string[];
  multiplexor: Multiplexor | null;
  /** What is cut: the payload, or what is the same in all layouts and then each layout. */
  layouts: Layout[];
}

type Layout = MessageLayouts['layouts'][number] & { draft: Draft | null };

function workOn(rows: MessageRows): Work {
  return {
    rows,
    timing: timingOf(rows.time, rows.begins),
    flipRate: flipRates(rows),
    taken: new Uint8Array(8 * rows.length),
    search: null,
    check: null,
    counter: null,
    shared: null,
    open: [],
    multiplexor: null,
    layouts: [],
  };
}

function countersOf(work: Work): FoundCounter[] {
  const { periodMs, timing } = work.timing;
  const periodS = periodMs !== null && timing === 'periodic' ? periodMs / 1000 : null;
  const own = findCounters(work.rows, { periodS, taken: work.taken });
  const { shared } = work;
  if (!shared || fieldBits(shared).some((bit) => work.taken[bit])) return own;
  return [shared, ...own.filter((counter) => sharedBits(counter, shared).length === 0)];
}

/**
 * Marks the bits of the check, then looks for the counter among the rest: bits of a check can look like one. A selector
 * that runs through its values in turn counts, too; it is a selector then.
 */
function takeChecked(work: Work): void {
  if (work.check) for (const bit of fieldBits(work.check)) work.taken[bit] = 1;
  work.counter ??= countersOf(work)[0] ?? null;
  work.multiplexor = findMultiplexor(work.rows, { taken: work.taken, counter: work.counter });
  const selector = work.multiplexor?.field;
  const free =
    work.counter === null ||
    (selector && !work.check?.perCounter && sharedBits(selector, work.counter).length > 0);
  if (selector && free) work.counter = counterBeside(work, selector);
  if (work.counter) for (const bit of fieldBits(work.counter)) work.taken[bit] = 1;
  const { layouts, open } = layoutsOf(work.rows, work.taken, work.multiplexor);
  work.layouts = layouts.map((layout) => ({ ...layout, draft: null }));
  work.open.push(...open);
}

/** The counter among what the selector leaves. */
function counterBeside(work: Work, selector: Multiplexor['field']): FoundCounter | null {
  const { taken } = work;
  work.taken = taken.slice();
  for (const bit of fieldBits(selector)) work.taken[bit] = 1;
  const counter = countersOf(work)[0] ?? null;
  work.taken = taken;
  return counter;
}

function signalsOf(work: Work, drafts: readonly Draft[], style: BusStyle, stays: number): FoundSignal[] {
  return work.layouts.flatMap(({ draft, selectorValue }) =>
    draft ? cutMessage(draft, style, drafts.indexOf(draft), stays).map((s) => ({ ...s, selectorValue })) : [],
  );
}

function finished(work: Work, signals: FoundMessage['signals'], notes: RecordingNotes): FoundMessage {
  const { rows, timing, flipRate, check, counter } = work;
  const message = {
    bus: rows.bus,
    id: rows.id,
    extended: rows.extended,
    length: rows.length,
    frames: rows.count + rows.otherLength,
    ...timing,
    flipRate,
    signals,
    counter,
    check,
    selector: work.multiplexor && selectorOf(work.multiplexor),
  };
  return { ...message, open: [...openQuestions(rows, message, notes), ...work.open] };
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
