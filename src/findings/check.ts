/**
 * Check fields of the messages of one bus: CRC-8 of any polynomial, exclusive-or and sums, with identifier bytes and a
 * constant per counter value. A model is believed when its evidence exceeds all that was free to choose, and only after
 * it was tried on every frame.
 */
import { readBits } from '../can/bits.ts';
import { type ConstantCase, constantCase, type SettledConstant, settleConstants } from './checkConstant.ts';
import { agreeing, beyond, commonest, type OpenCheck } from './checkModel.ts';
import { AGREEING_SHARE, type CheckSearch, DISTINCT_LIMIT, NEEDED_BITS, searchCheck } from './checkSearch.ts';
import { differenceSpace, type KnownCrc } from './crcSolve.ts';
import type { FoundCheck, FoundCounter } from './model.ts';
import { distinctRows, type MessageRows } from './rows.ts';
import { counted, hexByte, several } from './words.ts';

export interface CheckResult {
  check: FoundCheck | null;
  /** The counter whose value picks the constant of the check; null where there is one constant. */
  counter: FoundCounter | null;
  open: string[];
}

/** Evidence that the constant adds when it equals the one of all other messages of the bus. */
const CONSTANT_BITS = 6;

/** Check fields of all messages of one bus, in order, after their searches have been compared with each other. */
export function settleChecks(searches: readonly CheckSearch[]): CheckResult[] {
  const results: CheckResult[] = searches.map((search) => ({
    check: null,
    counter: null,
    open: openText(search),
  }));
  const models = withKnownCrcs(searches);
  for (const group of groupsOf(models)) {
    const cases = group.map((k) => constantCase((searches[k] as CheckSearch).rows, models[k] as OpenCheck));
    const constants = settleConstants(cases);
    group.forEach((k, at) => {
      const search = searches[k] as CheckSearch;
      const { open } = cases[at] as ConstantCase;
      const { init, xorout, idBytes, standard, text } = constants[at] as SettledConstant;
      const alike = group.filter((_, o) => constants[o]?.text === text);
      const bits = open.bits + (alike.length > 1 ? CONSTANT_BITS : 0);
      if (bits < NEEDED_BITS) return;
      const model = { ...open, bits, field: { ...open.field, init, xorout, idBytes } };
      const check = finished(search, model, standard, text);
      if (check === null) return;
      results[k] = believable(k, alike, searches, models)
        ? { check, counter: null, open: [] }
        : { check: null, counter: null, open: [onlyCounterText(check)] };
    });
  }
  models.forEach((model, k) => {
    if (model?.counter) results[k] = settleByCounter(searches[k] as CheckSearch, model, model.counter);
  });
  return results;
}

/** Models of the messages by themselves, and where there is none, with a CRC that other messages are known to use. */
function withKnownCrcs(searches: readonly CheckSearch[]): (OpenCheck | null)[] {
  const known = new Map<string, KnownCrc>();
  const moving = searches.map(({ rows, counters }) => movesBesideCounter(rows, counters));
  searches.forEach(({ best }, k) => {
    if (best?.field.algorithm !== 'crc' || !moving[k]) return;
    const { poly, reflected } = best.field;
    known.set(`${poly} ${reflected}`, { poly, reflected });
  });
  if (known.size === 0) return searches.map(({ best }) => best);
  return searches.map(({ rows, counters, best }, k) => {
    if (best && moving[k]) return best;
    return searchCheck(rows, counters, [...known.values()], NEEDED_BITS - CONSTANT_BITS).best;
  });
}

/**
 * Where nothing but the counter and the check move, what else the check covers cannot be seen. Such a model is believed
 * when another message of the bus, where more moves, has the same check in the same arrangement, or several have.
 */
function believable(
  k: number,
  alike: readonly number[],
  searches: readonly CheckSearch[],
  models: readonly (OpenCheck | null)[],
): boolean {
  const moves = (m: number) =>
    movesBesideCounter((searches[m] as CheckSearch).rows, (searches[m] as CheckSearch).counters);
  if (moves(k)) return true;
  const arrangement = (m: number) => arrangementOf((searches[m] as CheckSearch).rows, models[m] as OpenCheck);
  const same = alike.filter((m) => arrangement(m) === arrangement(k));
  return same.some(moves) || same.length >= ALIKE_NEEDED;
}

const ALIKE_NEEDED = 3;

/** Whether two payloads with the same counter value differ. */
function movesBesideCounter(rows: MessageRows, counters: readonly FoundCounter[]): boolean {
  const counter = counters[0];
  if (!counter) return true;
  const value = (f: number) => readBits(rows.payload, f * rows.length, counter);
  return differenceSpace(rows.payload, rows.length, distinctRows(rows, DISTINCT_LIMIT), value).rank > 0;
}

/** Where the field stands and what it covers, counted from the end it is nearer to. */
function arrangementOf(rows: MessageRows, model: OpenCheck): string {
  const { start, covers, suffix } = model.field;
  const byte = start >> 3;
  const rest = Array.from({ length: rows.length }, (_, b) => b).filter((b) => b !== byte);
  if (covers.join() !== rest.join() || suffix.length > 0) return `${start} ${covers.join()} ${suffix.length}`;
  return byte === rows.length - 1 ? `last ${start & 7}` : `${start}`;
}

function onlyCounterText(check: FoundCheck): string {
  const [all] = check.evidence;
  return `Byte ${check.start >> 3} agrees with a ${checkName(check)} in ${counted(all?.agree ?? 0)} of ${several(all?.frames ?? 0, 'frame')}, but only the counter moves beside it, and no other message of this bus has its check there; record while another signal of this message changes.`;
}

function checkName(check: FoundCheck): string {
  return check.algorithm === 'crc' ? `CRC-8 of polynomial ${hexByte(check.poly)}` : check.algorithm;
}

function settleByCounter(search: CheckSearch, model: OpenCheck, counter: FoundCounter): CheckResult {
  const perCounter = constantsByCounter(search.rows, model, counter);
  if (perCounter === null) {
    const text = `Byte ${model.field.start >> 3} holds a check field with one constant per counter value, but not every counter value was seen; record until the counter has rolled over several times.`;
    return { check: null, counter: null, open: [text] };
  }
  const text = `${perCounter.length} constants, one per counter value, each taken from the frames with that value.`;
  const check = finished(search, { ...model, field: { ...model.field, perCounter } }, '', text);
  return check ? { check, counter, open: [] } : { check, counter: null, open: openText(search) };
}

/** Indices of models with one constant per message, by algorithm, polynomial and bit order. */
function groupsOf(models: readonly (OpenCheck | null)[]): number[][] {
  const groups = new Map<string, number[]>();
  models.forEach((model, k) => {
    if (!model || model.counter) return;
    const { algorithm, poly, reflected, length, xorout } = model.field;
    const key = [algorithm, poly, reflected, length, xorout].join();
    groups.set(key, [...(groups.get(key) ?? []), k]);
  });
  return [...groups.values()];
}

/** One constant per counter value; null where a value that the counter takes was not seen. */
function constantsByCounter(rows: MessageRows, model: OpenCheck, counter: FoundCounter): number[] | null {
  const left = beyond(rows, model.field);
  const byValue: number[][] = Array.from({ length: 2 ** counter.length }, () => []);
  for (let i = 0; i < rows.count; i++) {
    byValue[readBits(rows.payload, i * rows.length, counter)]?.push(left[i] as number);
  }
  const skip = new Set(counter.skip);
  if (byValue.some((values, v) => values.length === 0 && !skip.has(v))) return null;
  return byValue.map((values) => commonest(values).value);
}

function finished(
  search: CheckSearch,
  model: OpenCheck,
  standard: string,
  constantText: string,
): FoundCheck | null {
  const { rows } = search;
  const agree = agreeing(rows, model.field, model.counter);
  if (agree < AGREEING_SHARE * rows.count) return null;
  const { field, rank, bits } = model;
  const distinct =
    search.distinct < DISTINCT_LIMIT ? counted(search.distinct) : `more than ${counted(DISTINCT_LIMIT)}`;
  return {
    ...field,
    standard,
    probability: (agree / rows.count) * (1 - 2 ** -Math.min(bits - PRIOR_BITS, 20)),
    evidence: [
      { text: `${counted(agree)} of ${several(rows.count, 'frame')} agree.`, frames: rows.count, agree },
      {
        text: `${distinct} different payloads with ${several(rank, 'independent difference')} fit; chance would fit so once in 2^${Math.round(bits)} messages.`,
      },
      { text: constantText },
    ],
  };
}

/** Before looking, about one byte in 30 is a check field: five bits of doubt to be overcome. */
const PRIOR_BITS = 5;

function openText({ undecided, several: ambiguous, unexplained, distinct }: CheckSearch): string[] {
  const open = undecided.map(
    (byte) =>
      `Byte ${byte} may hold a check field, but ${several(distinct, 'different payload')} are too few to tell; record while another signal of this message changes, until 20 to 30 different payloads were sent.`,
  );
  for (const byte of ambiguous) {
    open.push(
      `Byte ${byte} follows from the other bytes as a CRC-8 does, but more than one polynomial explains it; record while bits that stood still here move.`,
    );
  }
  if (unexplained !== null) {
    open.push(
      `Byte ${unexplained} follows from the other bytes in ${counted(distinct)} different payloads as a check does, but by no polynomial, order of bytes or sum that is tried here.`,
    );
  }
  return open;
}
