/**
 * Start value, final constant and identifier bytes of check fields. In messages of one length they cannot be told
 * apart: only their joint effect, one constant a message, shows. What names them is that all messages of a bus that use
 * the same check agree on one explanation; otherwise the start value is given as 0 and the constant as it is.
 */
import type { CheckField } from '../can/check.ts';
import { beyond, beyondIn, commonest, type OpenCheck } from './checkModel.ts';
import { startValues } from './checkStart.ts';
import { publishedLike, publishedName } from './published.ts';
import type { MessageRows } from './rows.ts';
import { counted, hexOf } from './words.ts';

export interface ConstantCase {
  rows: MessageRows;
  open: OpenCheck;
  /** A frame that agrees with most others about the constant. */
  frame: number;
}

export function constantCase(rows: MessageRows, open: OpenCheck): ConstantCase {
  const left = beyond(rows, open.field);
  return { rows, open, frame: left.indexOf(commonest(left).value) };
}

export interface SettledConstant {
  init: number;
  xorout: number;
  idBytes: number[];
  standard: string;
  /** How the constant was named. */
  text: string;
  /** Messages that share this explanation, and share it only because it is true: others had to fit by themselves. */
  shared: number;
}

/** From this width on a published set that fits one message is believed; identifier bytes from twice of it. */
const SURE_WIDTH = 8;
/** Messages that must agree before a start value nobody publishes, or identifier bytes, are believed. */
const AGREEING_MESSAGES = 3;

/**
 * One result per case, in order. All cases must use the same algorithm, polynomial and bit order, on one bus, with one
 * constant per message.
 */
export function settleConstants(cases: readonly ConstantCase[]): SettledConstant[] {
  const settled: (SettledConstant | null)[] = cases.map(() => null);
  for (const explanation of explanations(cases)) {
    const open = cases.map((_, k) => k).filter((k) => settled[k] === null);
    if (open.length === 0) break;
    const fits = open.filter((k) => explains(explanation, cases[k] as ConstantCase));
    if (fits.length < explanation.needs) continue;
    for (const k of fits) {
      settled[k] = {
        init: explanation.init,
        xorout: explanation.xorout,
        idBytes: explanation.idBytes,
        standard: nameOf((cases[k] as ConstantCase).open.field, explanation),
        text: explainedText(explanation, fits.length, (cases[k] as ConstantCase).open.field.width),
        shared: fits.length,
      };
    }
  }
  return settled.map((one, k) => one ?? plainConstant(cases[k] as ConstantCase));
}

interface Explanation {
  init: number;
  xorout: number;
  idBytes: number[];
  /** Messages that must fit. */
  needs: number;
}

/** What is tried, the simplest first: published sets, then identifier bytes, then values shared by several messages. */
function* explanations(cases: readonly ConstantCase[]): Generator<Explanation> {
  const first = cases[0];
  if (!first) return;
  const { field } = first.open;
  const published = field.algorithm === 'crc' ? publishedLike(field) : [{ init: 0, xorout: field.xorout }];
  // Bytes of an identifier that was folded in stand as zeros after the covered ones: the constant holds them.
  const plain = field.suffix.length === 0;
  // A published set explains one message by chance in 1 of 2^width, identifier bytes in more, a free value always.
  const alone = field.width >= SURE_WIDTH ? 1 : 2;
  for (const { init, xorout } of plain ? published : []) yield { init, xorout, idBytes: [], needs: alone };
  for (const idBytes of idChoices(first.rows.extended)) {
    const needs = field.width >= 2 * SURE_WIDTH ? 1 : 2;
    for (const { init, xorout } of published) yield { init, xorout, idBytes, needs };
    yield* sharedValues(cases, idBytes);
  }
  yield* sharedValues(cases, []);
}

/** Explanations with start value 0, or with both values free, that the first few messages agree on. */
function sharedValues(cases: readonly ConstantCase[], idBytes: number[]): Explanation[] {
  if (cases.length < AGREEING_MESSAGES) return [];
  const list: Explanation[] = [];
  const counts = new Map<string, { init: number; xorout: number; count: number }>();
  const lengths = new Set(cases.map(({ open }) => open.field.covers.length));
  const crc = cases[0]?.open.field.algorithm === 'crc';
  const inits = crc && lengths.size > 1 ? startValues(cases, idBytes) : [0];
  for (const one of cases) {
    // Different lengths tell start value and final constant apart; equal lengths do not.
    for (const init of inits) {
      const value = constantOf(one, { init, xorout: 0, idBytes });
      const pair =
        crc || one.open.field.algorithm === 'xor' ? { init, xorout: value } : { init: value, xorout: -1 };
      const key = `${pair.init} ${pair.xorout}`;
      const entry = counts.get(key) ?? { ...pair, count: 0 };
      entry.count++;
      counts.set(key, entry);
    }
  }
  const baseXorout = cases[0]?.open.field.xorout ?? 0;
  const ranked = [...counts.values()]
    .filter((e) => e.count >= AGREEING_MESSAGES)
    .sort((a, b) => b.count - a.count);
  for (const { init, xorout } of ranked.slice(0, 4)) {
    list.push({ init, xorout: xorout < 0 ? baseXorout : xorout, idBytes, needs: AGREEING_MESSAGES });
  }
  return list;
}

function idChoices(extended: boolean): number[][] {
  const base = [[0], [0, 1], [1, 0]];
  return extended ? [...base, [0, 1, 2, 3], [3, 2, 1, 0], [1], [2], [3], [1, 2], [2, 1]] : base;
}

/** What the field holds beyond the model with these values; one sound frame tells, as it is the same in all. */
export function constantOf(
  one: ConstantCase,
  values: { init: number; xorout: number; idBytes: number[] },
): number {
  return beyondIn(one.rows, { ...one.open.field, ...values }, one.frame);
}

function explains(explanation: Explanation, one: ConstantCase): boolean {
  return constantOf(one, explanation) === 0;
}

function plainConstant(one: ConstantCase): SettledConstant {
  const { field } = one.open;
  const linear = field.algorithm === 'crc' || field.algorithm === 'xor';
  const constant = constantOf(one, { init: 0, xorout: field.xorout, idBytes: [] });
  const values = linear ? { init: 0, xorout: constant } : { init: constant, xorout: field.xorout };
  return {
    ...values,
    idBytes: [],
    standard: nameOf(field, values),
    text: `The constant ${hexOf(constant, field.width)} belongs to this message alone; start value, final constant and identifier cannot be told apart by it.`,
    shared: 1,
  };
}

function nameOf(field: CheckField, values: { init: number; xorout: number }): string {
  return field.algorithm === 'crc' ? publishedName({ ...field, ...values }) : '';
}

function explainedText(explanation: Explanation, messages: number, width: number): string {
  const { init, xorout, idBytes } = explanation;
  const id =
    idBytes.length > 0
      ? ` with identifier ${idBytes.length > 1 ? 'bytes' : 'byte'} ${idBytes.join(', ')}`
      : '';
  const who = messages === 1 ? 'this message' : `${counted(messages)} messages of this bus`;
  return `Start value ${hexOf(init, width)} and final constant ${hexOf(xorout, width)}${id} explain the constant of ${who}.`;
}
