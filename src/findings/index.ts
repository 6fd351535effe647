/**
 * What can be worked out from captures alone: timing, counters, check fields, and the cut of payloads into signals, each
 * with its evidence and a probability. A finding is a claim: it becomes part of a dictionary only when a person accepts
 * it. Pure functions over captures; `findAll` is the way in, `toFindingsForm` the way out.
 */
export { type CheckResult, settleChecks } from './check.ts';
export { type CheckSearch, searchCheck } from './checkSearch.ts';
export { type CounterOptions, findCounters } from './counter.ts';
export { type FindOptions, findAll, findSteps } from './find.ts';
export { type FindingsForm, toFindingsForm } from './json.ts';
export type {
  Evidence,
  FieldKind,
  Findings,
  FoundCheck,
  FoundCounter,
  FoundMessage,
  FoundSelector,
  FoundSignal,
} from './model.ts';
export { PUBLISHED_CRCS, publishedName } from './published.ts';
export { type MessageRows, messageRows, sessionsOf } from './rows.ts';
export { busStyle, cutMessage, draftSegmentation } from './segment.ts';
export { findSenders, type Senders } from './senders/index.ts';
export { type Timing, type TimingClass, timingOf } from './timing.ts';
