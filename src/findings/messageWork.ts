/**
 * What findings work out of one message by itself: plain objects go in and come out, so that it can be done in another
 * thread. What the messages of a bus have to settle between them lies in find.ts.
 */
import { fieldBits, sharedBits } from '../can/bits.ts';
import { type CheckSearch, searchCheck } from './checkSearch.ts';
import { findCounters } from './counter.ts';
import type { KnownCrc } from './crcSolve.ts';
import type { FoundCheck, FoundCounter } from './model.ts';
import { findMultiplexor, type Multiplexor } from './multiplexor.ts';
import { layoutsOf, type MessageLayouts } from './multiplexorLayouts.ts';
import { flipRates, type MessageRows } from './rows.ts';
import { type Draft, draftSteps, FRAMES_TO_CUT } from './segment.ts';
import { type Timing, timingOf } from './timing.ts';

/** Timing, and what the message shows by itself of counters and checks. */
export interface SearchTask {
  kind: 'search';
  rows: MessageRows;
  /** A counter that runs over other messages too. */
  shared: FoundCounter | null;
}

export interface Searched {
  timing: Timing;
  flipRate: Float64Array;
  search: CheckSearch;
}

/** The search once more, with the CRCs that other messages of the bus are known to use. */
export interface AgainTask {
  kind: 'again';
  rows: MessageRows;
  counters: readonly FoundCounter[];
  known: readonly KnownCrc[];
  neededBits: number;
}

/** The cut, once check and counter are settled. */
export interface DraftTask {
  kind: 'draft';
  rows: MessageRows;
  timing: Timing;
  shared: FoundCounter | null;
  check: FoundCheck | null;
  counter: FoundCounter | null;
}

export interface Drafted {
  counter: FoundCounter | null;
  multiplexor: Multiplexor | null;
  /** What is cut: the payload, or what is the same in all layouts and then each layout. */
  layouts: Layout[];
  open: string[];
}

export type Layout = MessageLayouts['layouts'][number] & { draft: Draft | null };

export type MessageTask = SearchTask | AgainTask | DraftTask;
export type MessageResult<T extends MessageTask = MessageTask> = T extends SearchTask
  ? Searched
  : T extends AgainTask
    ? CheckSearch
    : Drafted;

/** Does one task in steps; yields the share that is done. */
export function* messageSteps<T extends MessageTask>(task: T): Generator<number, MessageResult<T>> {
  if (task.kind === 'search') return searched(task) as MessageResult<T>;
  if (task.kind === 'again') {
    const { rows, counters, known, neededBits } = task;
    return searchCheck(rows, counters, known, neededBits) as MessageResult<T>;
  }
  return (yield* drafted(task)) as MessageResult<T>;
}

function searched({ rows, shared }: SearchTask): Searched {
  const timing = timingOf(rows.time, rows.begins);
  const counters = countersOf({ rows, timing, shared }, new Uint8Array(8 * rows.length));
  return { timing, flipRate: flipRates(rows), search: searchCheck(rows, counters) };
}

type Counted = Pick<DraftTask, 'rows' | 'timing' | 'shared'>;

/** `taken`: 1 for bits that are explained otherwise. */
function countersOf({ rows, timing, shared }: Counted, taken: Uint8Array): FoundCounter[] {
  const { periodMs, timing: manner } = timing;
  const periodS = periodMs !== null && manner === 'periodic' ? periodMs / 1000 : null;
  const own = findCounters(rows, { periodS, taken });
  if (!shared || fieldBits(shared).some((bit) => taken[bit])) return own;
  return [shared, ...own.filter((counter) => sharedBits(counter, shared).length === 0)];
}

/**
 * Marks the bits of the check, then looks for the counter among the rest: bits of a check can look like one. A selector
 * that runs through its values in turn counts, too; it is a selector then.
 */
function* drafted(task: DraftTask): Generator<number, Drafted> {
  const { rows, check } = task;
  const taken = new Uint8Array(8 * rows.length);
  if (check) for (const bit of fieldBits(check)) taken[bit] = 1;
  let counter = task.counter ?? countersOf(task, taken)[0] ?? null;
  const multiplexor = findMultiplexor(rows, { taken, counter });
  const selector = multiplexor?.field;
  const free =
    counter === null || (selector && !check?.perCounter && sharedBits(selector, counter).length > 0);
  if (selector && free) {
    const beside = taken.slice();
    for (const bit of fieldBits(selector)) beside[bit] = 1;
    counter = countersOf(task, beside)[0] ?? null;
  }
  if (counter) for (const bit of fieldBits(counter)) taken[bit] = 1;
  const { layouts, open } = layoutsOf(rows, taken, multiplexor);
  const drafts: Layout[] = [];
  for (const [l, layout] of layouts.entries()) {
    let draft: Draft | null = null;
    if (layout.rows.count >= FRAMES_TO_CUT) {
      const steps = draftSteps(layout.rows, layout.taken);
      let step = steps.next();
      for (; !step.done; step = steps.next()) yield (l + step.value) / layouts.length;
      draft = step.value;
    }
    drafts.push({ ...layout, draft });
  }
  return { counter, multiplexor, layouts: drafts, open };
}
