/**
 * Larger pieces made of nodes: limits, timers, latches, edges, counters. Each takes the builder first; those with
 * memory take the name of their state next. What they return is the value of this step, unless said otherwise.
 */
import type { ProgramBuilder } from './builder.ts';
import { LogicError } from './error.ts';
import type { NodeId } from './form.ts';

/** a, kept within lo … hi. */
export function clamp(b: ProgramBuilder, a: NodeId, lo: number, hi: number): NodeId {
  return b.clamp(a, b.const(lo), b.const(hi));
}

/** From `from` towards `target` by at most `step` ≥ 0, all in the same unit. */
export function approach(
  b: ProgramBuilder,
  from: NodeId,
  target: NodeId,
  step: NodeId | { up: NodeId; down: NodeId },
): NodeId {
  const { up, down } = typeof step === 'number' ? { up: step, down: step } : step;
  if (b.interval(up).lo < 0 || b.interval(down).lo < 0)
    throw new LogicError('a value approaches its target by steps ≥ 0, this step can be negative');
  return b.clamp(target, b.sub(from, down), b.add(from, up));
}

/** A value that follows `target` by at most `step` per step of the program, and stays within lo … hi. */
export function slew(
  b: ProgramBuilder,
  name: string,
  target: NodeId,
  options: {
    lo: number;
    hi: number;
    init: number;
    step: NodeId | { up: NodeId; down: NodeId };
    note?: string;
  },
): NodeId {
  const { lo, hi, init, step, note } = options;
  const held = b.state(name, lo, hi, init, note);
  const value = approach(b, held, clamp(b, target, lo, hi), step);
  b.next(held, value);
  return value;
}

export interface Timer {
  /** Steps, this one included, for which `running` has been true without a break; stops at `steps`. */
  count: NodeId;
  /** True once the count has reached `steps`. */
  elapsed: NodeId;
}

/** Counts steps while `running` is true, back to 0 when it is false; saturates, so it never wraps. `init`: count before the first step. */
export function timer(
  b: ProgramBuilder,
  name: string,
  running: NodeId,
  steps: number,
  options: { init?: number; note?: string } = {},
): Timer {
  const { init = 0, note = 'steps' } = options;
  const before = b.state(name, 0, steps, init, note);
  const count = b.select(running, b.min(b.add(before, b.const(1)), b.const(steps)), b.const(0));
  b.next(before, count);
  return { count, elapsed: b.le(b.const(steps), count) };
}

/** `signal` as last seen unchanged for `steps` steps in a row: a change shows at the `steps`-th step that has it, steps ≥ 1. */
export function debounce(
  b: ProgramBuilder,
  name: string,
  signal: NodeId,
  steps: number,
  options: { init?: 'on' | 'off'; note?: string } = {},
): NodeId {
  const shown = b.stateBool(name, options.init === 'on', options.note);
  const differs = b.not(b.eq(signal, shown));
  const { elapsed } = timer(b, `${name}_differs`, differs, steps);
  const value = b.select(elapsed, signal, shown);
  b.next(shown, value);
  return value;
}

/** Remembers `set` until `reset`; where both are true, `wins` decides. */
export function latch(
  b: ProgramBuilder,
  name: string,
  set: NodeId,
  reset: NodeId,
  options: { wins: 'set' | 'reset'; init?: 'on' | 'off'; note?: string },
): NodeId {
  const held = b.stateBool(name, options.init === 'on', options.note);
  const value =
    options.wins === 'set' ? b.or(set, b.and(held, b.not(reset))) : b.and(b.or(set, held), b.not(reset));
  b.next(held, value);
  return value;
}

/** True in the step in which `signal` becomes true. `init`: what it is taken to have been before the first step; `on` sees no edge there. */
export function risingEdge(
  b: ProgramBuilder,
  name: string,
  signal: NodeId,
  options: { init?: 'on' | 'off'; note?: string } = {},
): NodeId {
  const before = b.stateBool(name, options.init !== 'off', options.note);
  b.next(before, signal);
  return b.and(signal, b.not(before));
}

/** `value` in steps where `take` is true, otherwise the value last taken. The value's interval must lie within lo … hi. */
export function hold(
  b: ProgramBuilder,
  name: string,
  value: NodeId,
  take: NodeId,
  options: { lo: number; hi: number; init: number; note?: string },
): NodeId {
  const { lo, hi, init, note } = options;
  const before = b.state(name, lo, hi, init, note);
  const held = b.select(take, value, before);
  b.next(before, held);
  return held;
}

/** `value` in steps where `take` is true, otherwise the truth value last taken. */
export function holdBool(
  b: ProgramBuilder,
  name: string,
  value: NodeId,
  take: NodeId,
  options: { init?: 'on' | 'off'; note?: string } = {},
): NodeId {
  const before = b.stateBool(name, options.init === 'on', options.note);
  const held = b.select(take, value, before);
  b.next(before, held);
  return held;
}

/** How a message counter runs: `bits` wide, forward by `step` (which may be negative), never showing a value of `skip`. */
export interface CounterRule {
  bits: number;
  step?: number;
  skip?: readonly number[];
}

/** The counter value that follows `value` (0 … 2^bits − 1). */
export function counterAfter(b: ProgramBuilder, value: NodeId, rule: CounterRule): NodeId {
  const size = 2 ** rule.bits;
  const step = (((rule.step ?? 1) % size) + size) % size;
  const skipped = new Set(rule.skip ?? []);
  const plain = b.wrap(b.add(value, b.const(step)), rule.bits);
  return [...skipped].reduceRight((otherwise, skip) => {
    const before = (skip - step + size) % size;
    if (skipped.has(before)) return otherwise;
    return b.select(b.eq(value, b.const(before)), b.const(unskipped(rule, step, skip)), otherwise);
  }, plain);
}

/** A counter for sending: the value of this step, which moves on after every step in which `advance` is true. */
export function counter(
  b: ProgramBuilder,
  name: string,
  advance: NodeId,
  rule: CounterRule & { init?: number; note?: string },
): NodeId {
  const { init = 0, note = 'message counter' } = rule;
  const value = b.state(name, 0, 2 ** rule.bits - 1, init, note);
  b.next(value, b.select(advance, counterAfter(b, value, rule), value));
  return value;
}

function unskipped(rule: CounterRule, step: number, from: number): number {
  const size = 2 ** rule.bits;
  const skipped = rule.skip ?? [];
  let value = from;
  for (let tries = 0; skipped.includes(value); tries++) {
    if (tries > skipped.length)
      throw new LogicError(
        `counter of ${rule.bits} bits with step ${rule.step ?? 1}: every value it reaches is skipped`,
      );
    value = (value + step) % size;
  }
  return value;
}
