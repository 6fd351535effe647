/**
 * Check fields of the messages of one bus: CRCs of any width and polynomial, exclusive-or and sums, with identifier bytes and a
 * constant per counter value. A model is believed when its evidence exceeds all that was free to choose, and only after
 * it was tried on every frame.
 */
import { type BitField, readBits } from '../can/bits.ts';
import type { CheckField } from '../can/check.ts';
import { type ConstantCase, constantCase, type SettledConstant, settleConstants } from './checkConstant.ts';
import { agreeing, beyond, commonest, type OpenCheck } from './checkModel.ts';
import { profileOf } from './checkProfile.ts';
import { AGREEING_SHARE, type CheckSearch, DISTINCT_LIMIT, NEEDED_BITS, searchCheck } from './checkSearch.ts';
import { bytesOfField } from './covers.ts';
import { differenceSpace, type KnownCrc } from './crcSolve.ts';
import type { FoundCheck, FoundCounter } from './model.ts';
import { distinctRows, type MessageRows } from './rows.ts';

import { counted, hexOf, placeHead, placeWords, several } from './words.ts';

export interface CheckResult {
  check: FoundCheck | null;
  /** The counter whose value picks the constant of the check; null where there is one constant. */
  counter: FoundCounter | null;
  open: string[];
}

/** Evidence that the constant adds when it equals the one of all other messages of the bus. */
const CONSTANT_BITS = 6;

/**
 * Check fields of all messages of one bus, in order, after their searches have been compared with each other. `again`: the
 * results of `searchesAgain` by index, where they were worked out elsewhere.
 */
export function settleChecks(
  searches: readonly CheckSearch[],
  again: ReadonlyMap<number, CheckSearch> | null = null,
): CheckResult[] {
  const results: CheckResult[] = searches.map((search) => ({
    check: null,
    counter: null,
    open: openText(search),
  }));
  const models = withKnownCrcs(searches, again);
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

/** A message that is searched once more, with the CRCs that other messages of the bus are known to use. */
export interface SearchAgain {
  /** Index into the searches. */
  index: number;
  known: readonly KnownCrc[];
  neededBits: number;
}

/** Searches worth doing again; `settleChecks` takes their results, or does them itself. */
export function searchesAgain(searches: readonly CheckSearch[]): SearchAgain[] {
  const crcs = new Map<string, KnownCrc>();
  const moving = searches.map(({ rows, counters }) => movesBesideCounter(rows, counters));
  searches.forEach(({ best }, k) => {
    if (best?.field.algorithm !== 'crc' || !moving[k]) return;
    const { width, poly, reflected } = best.field;
    crcs.set(`${width} ${poly} ${reflected}`, { width, poly, reflected });
  });
  if (crcs.size === 0) return [];
  const known = [...crcs.values()];
  return searches.flatMap(({ best }, index) =>
    best && moving[index] ? [] : [{ index, known, neededBits: NEEDED_BITS - CONSTANT_BITS }],
  );
}

/** Models of the messages by themselves, and where there is none, with a CRC that other messages are known to use. */
function withKnownCrcs(
  searches: readonly CheckSearch[],
  again: ReadonlyMap<number, CheckSearch> | null,
): (OpenCheck | null)[] {
  const models = searches.map(({ best }) => best);
  const second =
    again ??
    new Map(
      searchesAgain(searches).map(({ index, known, neededBits }) => {
        const { rows, counters } = searches[index] as CheckSearch;
        return [index, searchCheck(rows, counters, known, neededBits)];
      }),
    );
  for (const [index, { best }] of second) models[index] = best;
  return models;
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
  const { field } = model;
  const { start, length, byteOrder, covers, suffix } = field;
  const { full, touched } = bytesOfField(field);
  const rest = Array.from({ length: rows.length }, (_, b) => b).filter((b) => !full.includes(b));
  const place = `${start} ${length} ${byteOrder}`;
  if (covers.join() !== rest.join() || suffix.length > 0) return `${place} ${covers.join()} ${suffix.length}`;
  if (touched[touched.length - 1] !== rows.length - 1) return place;
  return `last ${start - 8 * rows.length} ${length} ${byteOrder}`;
}

function onlyCounterText(check: FoundCheck): string {
  const [all] = check.evidence;
  return `${placeHead(check)} ${agrees(check)} with a ${checkName(check)} in ${counted(all?.agree ?? 0)} of ${several(all?.frames ?? 0, 'frame')}, but only the counter moves beside it, and no other message of this bus has its check there; record while another signal of this message changes.`;
}

function agrees(field: BitField): string {
  return placeHead(field).startsWith('Byte') ? 'agrees' : 'agree';
}

function checkName({ algorithm, width, poly }: FoundCheck): string {
  return algorithm === 'crc' ? `CRC-${width} of polynomial ${hexOf(poly, width)}` : algorithm;
}

function settleByCounter(search: CheckSearch, model: OpenCheck, counter: FoundCounter): CheckResult {
  const perCounter = constantsByCounter(search.rows, model, counter);
  if (perCounter === null) {
    const { field } = model;
    const holds = placeHead(field).startsWith('Byte') ? 'holds' : 'hold';
    const text = `${placeHead(field)} ${holds} a check field with one constant per counter value, but not every counter value was seen; record until the counter has rolled over several times.`;
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
    const { algorithm, poly, reflected, length, xorout, suffix } = model.field;
    const key = [algorithm, poly, reflected, length, xorout, suffix.length].join();
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
  const profile = profileOf(model.field, search.counters);
  const named = profile ? { ...model, field: profile.field } : model;
  const { field, rank, bits, rivals = [] } = named;
  const distinct =
    search.distinct < DISTINCT_LIMIT ? counted(search.distinct) : `more than ${counted(DISTINCT_LIMIT)}`;
  const evidence = [
    { text: `${counted(agree)} of ${several(rows.count, 'frame')} agree.`, frames: rows.count, agree },
    {
      text: `${distinct} different payloads with ${several(rank, 'independent difference')} fit; chance would fit so once in 2^${Math.round(bits)} messages.`,
    },
    { text: constantText },
  ];
  if (profile) evidence.push({ text: `Laid out as ${profile.standard}. ${profile.text}` });
  if (rivals.length > 0) evidence.push({ text: rivalText(rivals) });
  const sure = (agree / rows.count) * (1 - 2 ** -Math.min(bits - PRIOR_BITS, 20));
  const name = profile?.standard ?? standard;
  return { ...field, standard: name, probability: sure / (1 + rivals.length), evidence };
}

function rivalText(rivals: readonly CheckField[]): string {
  return `The same equation can be solved for ${rivals.map(placeWords).join(', ')}, which ${rivals.length === 1 ? 'looks' : 'look'} as much like a check; a recording in which that signal stands still tells which it is.`;
}

/** Before looking, about one byte in 30 is a check field: five bits of doubt to be overcome. */
const PRIOR_BITS = 5;

function openText({ undecided, several: ambiguous, unexplained, tooFew, distinct }: CheckSearch): string[] {
  const open = undecided.map(
    (place) =>
      `${placeHead(place)} may hold a check field, but ${several(distinct, 'different payload')} are too few to tell; record while another signal of this message changes, until ${payloadsFor(place.length)} different payloads were sent.`,
  );
  for (const place of ambiguous) {
    const follow = placeHead(place).startsWith('Byte') ? 'follows' : 'follow';
    open.push(
      `${placeHead(place)} ${follow} from the ${place.byte ? 'other bytes' : 'rest'} as a CRC-${place.length} does, but more than one polynomial explains it; record while bits that stood still here move.`,
    );
  }
  if (tooFew) {
    open.push(
      `${several(distinct, 'different payload')} are too few to tell whether any bits here are a check field; record while the signals of this message change, until ${counted(Math.max(60, 2 * distinct))} different payloads were sent.`,
    );
  }
  if (unexplained !== null) {
    open.push(
      `${placeHead(unexplained)} follows from the other bytes in ${counted(distinct)} different payloads as a check does, but by no polynomial, order of bytes or sum that is tried here.`,
    );
  }
  return open;
}

/** Payloads that give evidence enough with some to spare: a narrow field tells less by each. */
function payloadsFor(bits: number): string {
  return bits < 8 ? '40 to 60' : '20 to 30';
}
