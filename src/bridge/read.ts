/** Reading: a program per received message that believes only what its check field and counter confirm. */
import { fieldBits } from '../can/bits.ts';
import type { Message, Signal } from '../dictionary/model.ts';
import { counterAfter, hold, holdBool } from '../logic/blocks.ts';
import { ProgramBuilder } from '../logic/builder.ts';
import { extract } from '../logic/fields.ts';
import type { NodeId, Program } from '../logic/form.ts';
import { checkNodes, unsignedField } from './checkNodes.ts';
import { linear } from './linear.ts';
import { believedRange } from './plan.ts';
import { counterValues } from './supported.ts';

/** Ages count steps up to here and stay: "this long ago, or never". */
export const AGE_MAX = 1023;

/** In which form a signal is wanted. */
export type ReadForm =
  /** The raw value, as the bits hold it. */
  | { kind: 'raw' }
  /** Truth value: raw value 1. */
  | { kind: 'flag' }
  /**
   * Integer: (physical × `gain` + `bias`) / `perCount`, rounded to nearest and kept within lo … hi;
   * its magnitude where only that is wanted.
   */
  | {
      kind: 'count';
      perCount: number;
      gain: number;
      bias: number;
      lo: number;
      hi: number;
      sign: 'kept' | 'dropped';
      unit: string;
    };

export interface ReadWish {
  signal: Signal;
  form: ReadForm;
  /** Name of the output. */
  output: string;
}

export interface ReadOptions {
  /** How many frames in a row may be missing before a counter counts as jumped. */
  lostFrames: number;
}

export interface ReadProgram {
  program: Program;
  /** Payload byte of each input after the first, which is the fresh mark. */
  bytes: number[];
  /** Name of the output with the age of each signal, by the signal's name. */
  ages: Map<string, string>;
}

/**
 * Program that reads one message. Outputs: `valid`, true in a step with a frame whose check field and counter are right;
 * `age`, steps since then (0 … 1023, 1023 at first); each wished signal as last believed, and `age_…` for a signal that
 * is not believed with every valid frame, because it has limits or shares its bits with others.
 *
 * A counter is right when it is the next one, or one of the `lostFrames` after it. The first frame is taken as the start;
 * after a jump the frame that follows in turn is right again. A repeated value never is.
 */
export function readProgram(
  name: string,
  message: Message,
  wishes: readonly ReadWish[],
  options: ReadOptions,
): ReadProgram {
  const b = new ProgramBuilder(
    name,
    `Reads ${message.name}: what of it is valid, how old it is, and its signals.`,
  );
  const fresh = b.inputBool('fresh', '1 = a frame came since the last step');
  const used = usedBytes(message, wishes);
  const bytes: NodeId[] = Array.from({ length: message.length }, () => b.const(0));
  for (const i of used) bytes[i] = b.input(`byte_${i}`, 0, 255, `payload byte ${i}`);

  const valid = b.named('frame_valid', validity(b, message, bytes, fresh, options));
  b.output('valid', valid, '1 = a frame came, and its check field and counter are right');
  b.output('age', ageOf(b, 'held_age', valid, `steps since ${message.name} was last valid`), 'steps');

  const ages = new Map<string, string>();
  for (const wish of wishes) {
    const { signal, output } = wish;
    const raw = b.named(`raw_${output}`, extract(b, bytes, signal));
    const conditions = believed(b, message, signal, bytes, raw);
    const take = conditions.length === 0 ? valid : b.and(valid, ...conditions);
    if (!ages.has(signal.name)) {
      if (conditions.length > 0) {
        const age = ageOf(b, `held_age_${output}`, take, `steps since ${signal.name} was last believed`);
        b.output(`age_${output}`, age, 'steps');
      }
      ages.set(signal.name, conditions.length > 0 ? `age_${output}` : 'age');
    }
    outputSignal(b, wish, raw, take);
  }
  return { program: b.finish(), bytes: used, ages };
}

/** Frames that may be missing in a row: those that got lost, and those that a later one overwrote within one step. */
export function toleratedFrames(message: Message, lostFrames: number, stepMs: number): number {
  const overwritten = message.periodMs ? Math.floor(stepMs / message.periodMs + 1e-9) : 1;
  return lostFrames + overwritten;
}

function validity(
  b: ProgramBuilder,
  message: Message,
  bytes: readonly NodeId[],
  fresh: NodeId,
  options: ReadOptions,
): NodeId {
  const { counter, check } = message;
  const now = counter ? b.named('counter_now', extract(b, bytes, unsignedField(counter))) : null;
  const parts = [fresh];
  if (check) {
    const right = checkNodes(b, check, message.id, bytes, now);
    const held = extract(b, bytes, unsignedField(check));
    parts.push(b.named('check_right', b.and(b.eq(held, right.value), right.possible)));
  }
  if (!counter || now === null) return b.and(fresh, ...parts.slice(1));
  parts.push(...counter.skip.map((skipped) => b.not(b.eq(now, b.const(skipped)))));
  const intact = b.named('intact', b.and(fresh, ...parts.slice(1)));
  const rule = { bits: counter.length, step: counter.step, skip: counter.skip };
  const last = b.state('counter_last', 0, 2 ** counter.length - 1, 0, 'counter of the last intact frame');
  const seen = b.stateBool('counter_seen', false, 'counter_last holds a counter');
  b.next(last, b.select(intact, now, last));
  b.next(seen, b.or(seen, intact));
  // One value of the circle always stays wrong: the repeated one.
  const most = Math.min(options.lostFrames + 1, counterValues(counter).length - 1);
  const expected: NodeId[] = [];
  for (let k = 0, value = last; k < most; k++) expected.push((value = counterAfter(b, value, rule)));
  const inTurn = b.named(
    'counter_in_turn',
    anyOf(
      b,
      expected.map((value) => b.eq(now, value)),
    ),
  );
  return b.and(intact, b.or(b.not(seen), inTurn));
}

/** What beside a valid frame must hold for a signal to be believed. */
function believed(
  b: ProgramBuilder,
  message: Message,
  signal: Signal,
  bytes: readonly NodeId[],
  raw: NodeId,
): NodeId[] {
  const conditions: NodeId[] = [];
  if (message.selector && signal.selectorValue !== undefined) {
    const selector = extract(b, bytes, unsignedField(message.selector));
    conditions.push(b.eq(selector, b.const(signal.selectorValue)));
  }
  const { rawLo, rawHi } = believedRange(signal);
  const { lo, hi } = b.interval(raw);
  if (rawLo > lo) conditions.push(b.le(b.const(rawLo), raw));
  if (rawHi < hi) conditions.push(b.le(raw, b.const(rawHi)));
  return conditions;
}

function outputSignal(b: ProgramBuilder, wish: ReadWish, raw: NodeId, take: NodeId): void {
  const { signal, form, output } = wish;
  const state = `held_${output}`;
  const note = `${signal.name} as last believed`;
  if (form.kind === 'flag') {
    const flag = b.eq(raw, b.const(1));
    b.output(output, holdBool(b, state, flag, take, { note }), `${signal.name}, 1 = yes`);
    return;
  }
  const { rawLo, rawHi } = believedRange(signal);
  if (form.kind === 'raw') {
    // Cut to what is believed, which changes nothing when it is taken, so that the interval says so too.
    const value = b.clamp(raw, b.const(rawLo), b.const(rawHi));
    const unit =
      `raw; × ${signal.scale}${signal.offset === 0 ? '' : ` + ${signal.offset}`} ${signal.unit}`.trim();
    const init = Math.min(Math.max(0, rawLo), rawHi);
    b.output(output, hold(b, state, value, take, { lo: rawLo, hi: rawHi, init, note }), unit);
    return;
  }
  const { perCount, gain, bias, lo, hi, sign, unit } = form;
  const factor = (signal.scale * gain) / perCount;
  const offset = (signal.offset * gain + bias) / perCount;
  const reach = sign === 'kept' ? lo : -hi;
  const signed = linear(b, b.clamp(raw, b.const(rawLo), b.const(rawHi)), factor, offset, reach, hi);
  const value = sign === 'kept' ? signed : b.clamp(b.abs(signed), b.const(lo), b.const(hi));
  const init = Math.min(Math.max(0, lo), hi);
  b.output(output, hold(b, state, value, take, { lo, hi, init, note }), unit);
}

function ageOf(b: ProgramBuilder, name: string, valid: NodeId, note: string): NodeId {
  const before = b.state(name, 0, AGE_MAX, AGE_MAX, note);
  const age = b.select(valid, b.const(0), b.min(b.add(before, b.const(1)), b.const(AGE_MAX)));
  b.next(before, age);
  return age;
}

function usedBytes(message: Message, wishes: readonly ReadWish[]): number[] {
  const used = new Set<number>();
  const fields = [...wishes.map((w) => w.signal), message.counter, message.check, message.selector];
  for (const field of fields) if (field) for (const bit of fieldBits(field)) used.add(bit >> 3);
  for (const byte of message.check?.covers ?? []) used.add(byte);
  return [...used].sort((p, q) => p - q);
}

function anyOf(b: ProgramBuilder, list: NodeId[]): NodeId {
  const [first, ...rest] = list;
  return first === undefined ? b.bool(false) : b.or(first, ...rest);
}
