/**
 * Looks for a check field in one message: solves for CRCs and sums, and keeps what fits every frame and behaves as a check
 * does. What messages of one bus tell about each other comes later (check.ts).
 */
import { fieldBits, readBits } from '../can/bits.ts';
import { changesWithTheRest, flipsPerByte, hasNoiseByte, noiseOf } from './checkBehaviour.ts';
import { beyond, commonest, type OpenCheck, openCrc, openSum } from './checkModel.ts';
import { bitCount, type CrcSearch, differenceSpace, type KnownCrc, solveCrc8 } from './crcSolve.ts';
import type { FoundCounter } from './model.ts';
import { distinctRows, type MessageRows, movingBits } from './rows.ts';
import { solveSums } from './sumSolve.ts';

/** What one message shows by itself; `settleChecks` turns the searches of a bus into check fields. */
export interface CheckSearch {
  rows: MessageRows;
  counters: readonly FoundCounter[];
  /** Best model of this message alone, null where there is none. */
  best: OpenCheck | null;
  /** Bytes that may hold a check, but vary too little to tell. */
  undecided: number[];
  /** Bytes that hold a CRC of one of several polynomials. */
  several: number[];
  /** A byte that follows from the others as a check does, by no rule tried here; null where there is none. */
  unexplained: number | null;
  /** Different payloads; `DISTINCT_LIMIT` stands for that many or more. */
  distinct: number;
}

/** Evidence from which a model is believed: chance would give one in some 260,000 messages such a model. */
export const NEEDED_BITS = 18;
/** Share of frames that must agree; fewer than all only where single frames were damaged. */
export const AGREEING_SHARE = 0.95;
export const DISTINCT_LIMIT = 4096;
/** Fewer frames are not looked at: whatever fits them. */
const FRAMES_NEEDED = 8;
/** Bits of surprise of constants that change with the counter. */
const PER_COUNTER_BITS = 3;
/** A byte in which fewer bits move is not said to be a possible check field. */
const MOVING_BITS = 5;

/** `counters`: candidates, for constants that change with the counter. */
export function searchCheck(
  rows: MessageRows,
  counters: readonly FoundCounter[],
  known: readonly KnownCrc[] = [],
  neededBits = NEEDED_BITS,
): CheckSearch {
  const distinct = distinctRows(rows, DISTINCT_LIMIT);
  const search: CheckSearch = {
    rows,
    counters,
    best: null,
    undecided: [],
    several: [],
    unexplained: null,
    distinct: distinct.length,
  };
  if (rows.count < FRAMES_NEEDED || distinct.length < 3) return search;
  const all = Uint32Array.from({ length: rows.count }, (_, i) => i);
  const frames = distinct.length < DISTINCT_LIMIT ? distinct : all;
  const message = { rows, places: placesFor(rows, counters), flips: flipsPerByte(rows), known, neededBits };
  const plain = attempt(message, frames, distinct, null);
  search.best = plain.best;
  for (const counter of counters) {
    if (search.best || counter.length > 8) break;
    search.best = attempt(message, frames, distinct, counter).best;
  }
  search.best ??= despiteDamage(message);
  if (search.best) return search;
  const moving = movingBits(rows);
  const worthSaying = (byte: number) =>
    message.places.includes(byte) && bitCount(moving[byte] as number) >= MOVING_BITS;
  search.undecided = plain.undecided.filter(worthSaying);
  if (!plain.sure) return search;
  search.several = plain.several.filter(worthSaying).slice(0, 1);
  if (search.undecided.length + search.several.length === 0) {
    search.unexplained = plain.checkLike.find(worthSaying) ?? null;
  }
  return search;
}

interface Message {
  rows: MessageRows;
  /** Bytes where a check may stand. */
  places: number[];
  flips: Float64Array;
  known: readonly KnownCrc[];
  neededBits: number;
}

interface Attempt {
  best: OpenCheck | null;
  undecided: number[];
  several: number[];
  /** Bytes that follow from the others as a check does, the liveliest first. */
  checkLike: number[];
  /** At least as many payloads again as fix the linear map. */
  sure: boolean;
}

/**
 * Bytes where a check may stand. Not where the counter does: with a check somewhere, the counter follows from the rest
 * as well, and what it is, is known.
 */
function placesFor(rows: MessageRows, counters: readonly FoundCounter[]): number[] {
  const [counter] = counters;
  const counting = new Set(counter && counter.length >= 4 ? fieldBits(counter).map((bit) => bit >> 3) : []);
  return Array.from({ length: rows.length }, (_, b) => b).filter((b) => !counting.has(b));
}

/** The best model of some frames. With a counter, frames are compared only where its value is the same. */
function attempt(
  message: Message,
  frames: Uint32Array,
  distinct: Uint32Array,
  counter: FoundCounter | null,
): Attempt {
  const { rows, places, flips, known } = message;
  const groupOf = counter ? (f: number) => readBits(rows.payload, f * rows.length, counter) : () => 0;
  const needed = message.neededBits + (counter ? PER_COUNTER_BITS : 0);
  const space = differenceSpace(rows.payload, rows.length, frames, groupOf);
  const crc = solveCrc8(space, rows.length, places, known, needed);
  const sums = solveSums(rows.payload, rows.length, movingBits(rows), distinct, groupOf, needed);
  const models = [
    ...liveliest(crc, flips, rows.count).map((solution) => openCrc(solution, counter)),
    ...sums.solutions.map((solution) => openSum(solution, counter)),
  ];
  models.sort((a, b) => b.bits - a.bits);
  const byLiveliness = (a: number, b: number) => (flips[b] as number) - (flips[a] as number);
  return {
    best: hardestToForetell(
      rows,
      models.filter((model) => fitsAll(rows, model)),
    ),
    undecided: [...new Set([...crc.undecided, ...sums.undecided.map((bit) => bit >> 3)])],
    several: crc.several.sort(byLiveliness),
    checkLike: crc.checkLike.sort(byLiveliness),
    sure: distinct.length - 1 - space.rank >= Math.max(SPARE_PAYLOADS, space.rank),
  };
}

/** Each agrees by chance once in 256. */
const SPARE_PAYLOADS = 8;

/**
 * A CRC is an equation that can be solved for any byte in it, so a signal may look like the check of the check. The
 * check is the one that flips about as much as any byte that follows from the rest.
 */
function liveliest({ solutions, determined }: CrcSearch, flips: Float64Array, count: number) {
  const most = Math.max(0, ...determined.map((byte) => flips[byte] as number));
  const about = 0.9 - 1.2 / Math.sqrt(count);
  return solutions.filter(({ byte }) => (flips[byte] as number) >= about * most);
}

/**
 * An exclusive-or is the same equation for every byte in it, and some CRCs are for two of them. Between models with about
 * the same evidence the check is the byte whose values are hardest to foretell, as it takes part in all that the others
 * do; between those that are about as hard, evidence, and so the place, decides.
 */
function hardestToForetell(rows: MessageRows, models: OpenCheck[]): OpenCheck | null {
  const [best] = models;
  if (!best) return null;
  const alike = models.filter(({ bits }) => bits >= best.bits - ABOUT_THE_SAME_BITS);
  if (alike.length === 1) return best;
  const noise = alike.map(({ field }) => noiseOf(rows, field.start >> 3));
  const most = Math.max(...noise);
  return alike.find((_, k) => (noise[k] as number) >= 0.97 * most) ?? best;
}

/** More than what places and arrangements cost. */
const ABOUT_THE_SAME_BITS = 10;

function fitsAll(rows: MessageRows, model: OpenCheck): boolean {
  if (!changesWithTheRest(rows, model.field)) return false;
  if (model.counter) return true;
  return commonest(beyond(rows, model.field)).count >= AGREEING_SHARE * rows.count;
}

const PARTS = 8;

/**
 * One damaged frame spoils every difference that it enters. Where a message looks as if it held a check, its parts are
 * solved by themselves, and a model of one part is tried on all.
 */
function despiteDamage(message: Message): OpenCheck | null {
  const { rows } = message;
  if (rows.count < PARTS * 24 || !hasNoiseByte(rows)) return null;
  const size = Math.floor(rows.count / PARTS);
  for (let part = 0; part < PARTS; part++) {
    const frames = Uint32Array.from({ length: Math.min(size, 400) }, (_, i) => part * size + i);
    const { best } = attempt(message, frames, frames, null);
    if (best) return best;
  }
  return null;
}
