/**
 * Check fields of the messages of one bus: CRC-8 of any polynomial, exclusive-or and sums, with identifier bytes and a
 * constant per counter value. A model is believed when its evidence exceeds all that was free to choose, and only after
 * it was tried on every frame.
 */
import { fieldBits, readBits } from '../can/bits.ts';
import { type ConstantCase, constantCase, type SettledConstant, settleConstants } from './checkConstant.ts';
import { agreeing, beyond, commonest, type OpenCheck, openCrc, openSum } from './checkModel.ts';
import { bitCount, differenceSpace, type KnownCrc, solveCrc8 } from './crcSolve.ts';
import type { FoundCheck, FoundCounter } from './model.ts';
import { distinctRows, type MessageRows, movingBits } from './rows.ts';
import { solveSums } from './sumSolve.ts';
import { counted, hexByte, several } from './words.ts';

/** What one message shows by itself; `settleChecks` turns the searches of a bus into check fields. */
export interface CheckSearch {
  rows: MessageRows;
  counters: readonly FoundCounter[];
  /** Best model of this message alone, null where there is none. */
  best: OpenCheck | null;
  /** Lowest bits of fields that may be checks, but vary too little to tell. */
  undecided: number[];
  distinct: number;
}

export interface CheckResult {
  check: FoundCheck | null;
  open: string[];
}

/** Evidence from which a model is believed: chance would give one in some 260,000 messages such a model. */
const NEEDED_BITS = 18;
/** Evidence that the constant adds when it equals the one of all other messages of the bus. */
const CONSTANT_BITS = 6;
/** Share of frames that must agree; fewer than all only where single frames were damaged. */
const AGREEING_SHARE = 0.95;
const DISTINCT_LIMIT = 4096;

/** Looks for a check field in one message. `counters`: candidates, for constants that change with the counter. */
export function searchCheck(
  rows: MessageRows,
  counters: readonly FoundCounter[],
  known: readonly KnownCrc[] = [],
  neededBits = NEEDED_BITS,
): CheckSearch {
  const distinct = distinctRows(rows, DISTINCT_LIMIT);
  const search: CheckSearch = { rows, counters, best: null, undecided: [], distinct: distinct.length };
  if (distinct.length < 3) return search;
  const frames =
    distinct.length < DISTINCT_LIMIT ? distinct : Uint32Array.from({ length: rows.count }, (_, i) => i);
  const whole = attempt(rows, frames, distinct, null, known, neededBits);
  search.undecided = whole.undecided;
  search.best = whole.best;
  for (const counter of counters) {
    if (search.best) break;
    if (counter.length <= 8) search.best = attempt(rows, frames, distinct, counter, known, neededBits).best;
  }
  search.best ??= despiteDamage(rows, known, neededBits);
  return search;
}

/** Check fields of all messages of one bus, in order, after their searches have been compared with each other. */
export function settleChecks(searches: readonly CheckSearch[]): CheckResult[] {
  const results: CheckResult[] = searches.map((search) => ({ check: null, open: openText(search) }));
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
        ? { check, open: [] }
        : { check: null, open: [...openText(search), onlyCounterText(check)] };
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
  const { start, covers } = model.field;
  const byte = start >> 3;
  const rest = Array.from({ length: rows.length }, (_, b) => b).filter((b) => b !== byte);
  if (covers.join() !== rest.join()) return `${start} ${covers.join()}`;
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
    return { check: null, open: [text] };
  }
  const text = `${perCounter.length} constants, one per counter value, each taken from the frames with that value.`;
  const check = finished(search, { ...model, field: { ...model.field, perCounter } }, '', text);
  return { check, open: check ? [] : openText(search) };
}

/** The best model of some frames. With a counter, frames are compared only where its value is the same. */
function attempt(
  rows: MessageRows,
  frames: Uint32Array,
  distinct: Uint32Array,
  counter: FoundCounter | null,
  known: readonly KnownCrc[],
  neededBits: number,
): { best: OpenCheck | null; undecided: number[] } {
  const groupOf = counter ? (f: number) => readBits(rows.payload, f * rows.length, counter) : () => 0;
  const needed = neededBits + (counter ? PER_COUNTER_BITS : 0);
  const space = differenceSpace(rows.payload, rows.length, frames, groupOf);
  const crc = solveCrc8(space, rows.length, known, needed);
  const sums = solveSums(rows.payload, rows.length, movingBits(rows), distinct, groupOf, needed);
  const models = [
    ...crc.solutions.map((solution) => openCrc(solution, counter)),
    ...sums.solutions.map((solution) => openSum(solution, counter)),
  ];
  models.sort((a, b) => b.bits - a.bits);
  return {
    best: models.find((model) => fitsAll(rows, model)) ?? null,
    undecided: [...crc.undecided.map((byte) => 8 * byte), ...sums.undecided],
  };
}

/** Bits of surprise of constants that change with the counter. */
const PER_COUNTER_BITS = 3;

function fitsAll(rows: MessageRows, model: OpenCheck): boolean {
  const left = beyond(rows, model.field);
  if (!model.counter) return commonest(left).count >= AGREEING_SHARE * rows.count;
  return true;
}

/**
 * One damaged frame spoils every difference that it enters. Where a message looks as if it held a check, its parts are
 * solved by themselves, and a model of one part is tried on all.
 */
function despiteDamage(rows: MessageRows, known: readonly KnownCrc[], neededBits: number): OpenCheck | null {
  if (rows.count < PARTS * 24 || !hasNoiseByte(rows)) return null;
  const size = Math.floor(rows.count / PARTS);
  for (let part = 0; part < PARTS; part++) {
    const frames = Uint32Array.from({ length: Math.min(size, 400) }, (_, i) => part * size + i);
    const { best } = attempt(rows, frames, frames, null, known, neededBits);
    if (best) return best;
  }
  return null;
}

const PARTS = 8;

/** A byte that takes at least 64 values and changes from frame to frame without pattern, as check bytes do. */
function hasNoiseByte(rows: MessageRows): boolean {
  const { payload, length, count } = rows;
  for (let b = 0; b < length; b++) {
    const seen = new Uint8Array(256);
    let values = 0;
    let flips = 0;
    for (let i = 1; i < count; i++) {
      const value = payload[i * length + b] as number;
      values += 1 - (seen[value] as number);
      seen[value] = 1;
      let changed = value ^ (payload[(i - 1) * length + b] as number);
      for (; changed !== 0; changed &= changed - 1) flips++;
    }
    const rate = flips / (8 * (count - 1));
    if (values >= 64 && rate > 0.35 && rate < 0.65) return true;
  }
  return false;
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

/** A byte in which fewer bits move is not said to be a possible check field. */
const MOVING_BITS = 5;

/** Before looking, about one byte in 30 is a check field: five bits of doubt to be overcome. */
const PRIOR_BITS = 5;

function openText(search: CheckSearch): string[] {
  const moving = movingBits(search.rows);
  const counting = new Set(
    search.counters
      .filter((counter) => counter.length >= 4)
      .flatMap((counter) => fieldBits(counter).map((bit) => bit >> 3)),
  );
  const worthSaying = (byte: number) =>
    !counting.has(byte) && bitCount(moving[byte] as number) >= MOVING_BITS;
  const starts = search.undecided.filter((start) => worthSaying(start >> 3));
  return starts.map(
    (start) =>
      `Byte ${start >> 3} may hold a check field, but ${several(search.distinct, 'different payload')} are too few to tell; record while another signal of this message changes, until 20 to 30 different payloads were sent.`,
  );
}
