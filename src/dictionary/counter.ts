/** Alive counters: what comes after a value, and whether the frames of a capture follow it. */
import type { Capture } from '../capture/store.ts';
import { bytesNeeded, fieldReader } from './bits.ts';
import type { Counter } from './model.ts';

/** What the step rule needs; findings and dictionary both have it. */
export type CounterRule = Pick<Counter, 'length' | 'step' | 'skip'>;

/** The value after `value`: one step on, mod 2^length, and on again while the value is one that the counter skips. */
export function nextCounter(rule: CounterRule, value: number): number {
  const size = 2 ** rule.length;
  let next = value;
  // A counter that skips every value has no next one; problems.ts reports it.
  for (let tries = 0; tries < size; tries++) {
    next = (((next + rule.step) % size) + size) % size;
    if (!rule.skip.includes(next)) return next;
  }
  return value;
}

export interface CounterReport {
  /** Frames that hold the counter. */
  frames: number;
  /** Steps from one frame to the next; one fewer than frames. */
  steps: number;
  /** Steps to exactly the next value. */
  agree: number;
  /** Steps to the same value again. */
  repeats: number;
  /** All other steps: frames were lost, or the counter jumped. */
  jumps: number;
  /** Frames with a value that the counter should skip. */
  skippedSeen: number;
  /** Frames too short to hold the counter. */
  tooShort: number;
  /** Capture index of the first frame that does not follow, −1 where all do. */
  firstBreak: number;
}

/** Follows a counter through frames of one message, given as capture indices in order. */
export function verifyCounter(capture: Capture, frames: Uint32Array, counter: Counter): CounterReport {
  const { length, offset, payload } = capture;
  const needed = bytesNeeded(counter);
  const read = fieldReader({ ...counter, signed: false });
  const skipped = new Set(counter.skip);
  const after = Int32Array.from({ length: 2 ** counter.length }, (_, value) => nextCounter(counter, value));
  const report: CounterReport = {
    frames: 0,
    steps: 0,
    agree: 0,
    repeats: 0,
    jumps: 0,
    skippedSeen: 0,
    tooShort: 0,
    firstBreak: -1,
  };
  let last = -1;
  for (const i of frames) {
    if ((length[i] as number) < needed) {
      report.tooShort++;
      continue;
    }
    const value = read(payload, offset[i] as number);
    report.frames++;
    if (skipped.has(value)) report.skippedSeen++;
    if (last >= 0) {
      report.steps++;
      if (value === after[last]) report.agree++;
      else {
        if (value === last) report.repeats++;
        else report.jumps++;
        if (report.firstBreak < 0) report.firstBreak = i;
      }
    }
    last = value;
  }
  return report;
}
