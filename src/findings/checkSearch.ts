/**
 * Looks for a check field in one message: solves for CRCs and sums, and keeps what fits every frame and behaves as a check
 * does. What messages of one bus tell about each other comes later (check.ts).
 */
import { fieldBits, readBits, sharedBits } from '../can/bits.ts';
import { changesWithTheRest, flipsPerBit, hasNoiseByte, livelyBits, noiseOf } from './checkBehaviour.ts';
import { beyond, commonest, type OpenCheck, openCrc, openSum } from './checkModel.ts';
import { bytePlaces, type CheckPlace, NARROWEST, otherPlaces } from './checkPlaces.ts';
import {
  bitCount,
  type CrcSearch,
  type CrcSolution,
  differenceSpace,
  type KnownCrc,
  solveCrcs,
} from './crcSolve.ts';
import type { FoundCounter } from './model.ts';
import { distinctRows, type MessageRows, movingBits } from './rows.ts';
import { type SumSolution, solveSums } from './sumSolve.ts';

/** What one message shows by itself; `settleChecks` turns the searches of a bus into check fields. */
export interface CheckSearch {
  rows: MessageRows;
  counters: readonly FoundCounter[];
  /** Best model of this message alone, null where there is none. */
  best: OpenCheck | null;
  /** Places that may hold a check, but vary too little to tell. */
  undecided: CheckPlace[];
  /** Places that hold a CRC of one of several polynomials. */
  several: CheckPlace[];
  /** A byte that follows from the others as a check does, by no rule tried here; null where there is none. */
  unexplained: CheckPlace | null;
  /** Some bits behave as those of a check do, and nothing could be solved from so few payloads. */
  tooFew: boolean;
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
/** Nor is another field whose bits flip less often than this at a change of the payload, on average. */
const NOISY_SHARE = 0.3;

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
    tooFew: false,
    distinct: distinct.length,
  };
  if (rows.count < FRAMES_NEEDED || distinct.length < 3) return search;
  const frames = distinct.length < DISTINCT_LIMIT ? distinct : withSpread(rows, distinct);
  const free = freeOf(counters);
  const places = bytePlaces(rows.length, free);
  const moving = movingBits(rows);
  const message = {
    rows,
    places,
    free,
    moving,
    flips: flipsPerBit(rows),
    lively: livelyBits(rows),
    known,
    neededBits,
  };
  const plain = attempt(message, frames, distinct, null);
  search.best = plain.best;
  for (const counter of counters) {
    if (search.best || counter.length > 8) break;
    search.best = attempt(message, frames, distinct, counter).best;
  }
  search.best ??= despiteDamage(message);
  if (search.best) return search;
  const worthSaying = worthSayingOf(message);
  search.undecided = sayable(plain.undecided.filter(worthSaying));
  if (!plain.sure) {
    search.tooFew = search.undecided.length === 0 && hasNoisyRun(message);
    return search;
  }
  search.several = sayable(plain.several.filter(worthSaying)).slice(0, 1);
  if (search.undecided.length + search.several.length === 0) {
    search.unexplained = plain.checkLike.find(worthSaying) ?? null;
  }
  return search;
}

/** Frames with different payloads from the beginning of a long recording, and frames from all over the rest of it. */
function withSpread(rows: MessageRows, distinct: Uint32Array): Uint32Array {
  const from = (distinct[distinct.length - 1] as number) + 1;
  const stride = Math.max(1, Math.floor((rows.count - from) / DISTINCT_LIMIT));
  const frames = Array.from(distinct);
  for (let i = from; i < rows.count; i += stride) frames.push(i);
  return Uint32Array.from(frames);
}

/** Whole bytes one by one; of other fields, which overlap, the widest of the liveliest. */
function sayable(places: CheckPlace[]): CheckPlace[] {
  const bytes = places.filter((place) => place.byte);
  if (bytes.length > 0) return bytes;
  const [first, ...rest] = places;
  return first ? [rest.reduce((widest, p) => (p.length > widest.length ? p : widest), first)] : [];
}

function worthSayingOf({ places, moving, flips }: Message): (place: CheckPlace) => boolean {
  return (place) => {
    if (place.byte) {
      const byte = place.start >> 3;
      const mayStand = places.some(({ start }) => start === place.start);
      return mayStand && bitCount(moving[byte] as number) >= MOVING_BITS;
    }
    return flipsOf(place, flips) >= NOISY_SHARE * place.length;
  };
}

/** Four bits side by side, none of the counter's, that flip in nearly a third of all steps or more. */
function hasNoisyRun({ rows, flips, free }: Message): boolean {
  const least = NOISY_SHARE - 0.5 / Math.sqrt(rows.count);
  let run = 0;
  for (let bit = 0; bit < flips.length; bit++) {
    run = free([bit]) && (flips[bit] as number) >= least ? run + 1 : 0;
    if (run >= NARROWEST) return true;
  }
  return false;
}

interface Message {
  rows: MessageRows;
  /** Whole bytes where a check may stand, and whether other bits may. */
  places: CheckPlace[];
  free: (bits: number[]) => boolean;
  /** Bits that ever move, by byte. */
  moving: Uint8Array;
  /** Flips per step of each bit. */
  flips: Float64Array;
  lively: Uint8Array;
  known: readonly KnownCrc[];
  neededBits: number;
}

interface Attempt {
  best: OpenCheck | null;
  undecided: CheckPlace[];
  several: CheckPlace[];
  /** Bytes that follow from the others as a check does, the liveliest first. */
  checkLike: CheckPlace[];
  /** At least as many payloads again as fix the linear map. */
  sure: boolean;
}

/**
 * A check may not stand where the counter does: with a check somewhere, the counter follows from the rest as well, and what
 * it is, is known.
 */
function freeOf(counters: readonly FoundCounter[]): (bits: number[]) => boolean {
  const [counter] = counters;
  const counting = new Set(counter && counter.length >= 4 ? fieldBits(counter) : []);
  return (bits) => !bits.some((bit) => counting.has(bit));
}

/** The best model of some frames. With a counter, frames are compared only where its value is the same. */
function attempt(
  message: Message,
  frames: Uint32Array,
  distinct: Uint32Array,
  counter: FoundCounter | null,
): Attempt {
  const { rows, flips, known } = message;
  const groupOf = counter ? (f: number) => readBits(rows.payload, f * rows.length, counter) : () => 0;
  const needed = message.neededBits + (counter ? PER_COUNTER_BITS : 0);
  const space = differenceSpace(rows.payload, rows.length, frames, groupOf);
  const sure = distinct.length - 1 - space.rank >= Math.max(SPARE_PAYLOADS, space.rank);
  const { lively, free } = message;
  const places =
    distinct.length < EDGES_FROM
      ? message.places.map((place) => ({ ...place, coverBits: PLAIN_COVERS }))
      : [
          ...message.places,
          ...otherPlaces(space, rows.length, { lively, free, edges: sure ? 'grown' : 'any' }),
        ];
  const crc = solveCrcs(space, rows.length, places, known, needed);
  const { payload, length } = rows;
  const sums = solveSums(payload, length, message.moving, distinct, groupOf, message.free, needed);
  const models = [
    ...liveliest(crc, flips, rows.count)
      .filter((solution) => !sums.solutions.some((sum) => follows(solution, sum)))
      .map((solution) => openCrc(solution, counter)),
    ...sums.solutions.map((solution) => openSum(solution, counter)),
  ];
  models.sort((a, b) => b.bits - a.bits);
  const byLiveliness = (a: CheckPlace, b: CheckPlace) => flipsOf(b, flips) - flipsOf(a, flips);
  return {
    best: hardestToForetell(
      rows,
      models.filter((model) => fitsAll(rows, model)),
    ),
    undecided: [...new Map([...crc.undecided, ...sums.undecided].map((p) => [placeKey(p), p])).values()],
    several: crc.several.sort(byLiveliness),
    checkLike: crc.checkLike.sort(byLiveliness),
    sure,
  };
}

/** Bits of a sum's field may agree with a polynomial of their own, and an exclusive-or of bytes is one of half bytes too. */
function follows({ place, poly }: CrcSolution, sum: SumSolution): boolean {
  if (place.length > sum.place.length) return false;
  return poly === 1 || sharedBits(place, sum.place).length === place.length;
}

function placeKey({ start, length, byteOrder }: CheckPlace): string {
  return `${start} ${length} ${byteOrder}`;
}

/** Flips per step of all bits of a place together. */
function flipsOf(place: CheckPlace, flips: Float64Array): number {
  return fieldBits(place).reduce((sum, bit) => sum + (flips[bit] as number), 0);
}

/** Of fewer payloads a bit at the edge of a check may be the same in all. */
const EDGES_FROM = 16;
/** Then bytes alone are tried, and only the usual arrangements: a wider check has relatives in the unusual ones. */
const PLAIN_COVERS = 3;
/** Each agrees by chance once in 256. */
const SPARE_PAYLOADS = 8;

/**
 * A CRC is an equation that can be solved for any byte in it, so a signal may look like the check of the check. The
 * check is the one that flips about as much as any byte that follows from the rest.
 */
function liveliest({ solutions, determined }: CrcSearch, flips: Float64Array, count: number) {
  const rate = (place: CheckPlace) => flipsOf(place, flips) / place.length;
  const most = Math.max(0, ...determined.map(rate));
  const about = 0.9 - 1.2 / Math.sqrt(count);
  return solutions.filter(({ place }) => rate(place) >= about * most);
}

/**
 * An exclusive-or is the same equation for every byte in it, a sum for every field as long, and some CRCs for two of them.
 * Between models with about the same evidence the check is the one whose values are hardest to foretell, as it takes part
 * in all that the others do; between those that are about as hard, evidence, and so the place, decides, and the others are
 * its rivals.
 */
function hardestToForetell(rows: MessageRows, models: OpenCheck[]): OpenCheck | null {
  const [best] = models;
  if (!best) return null;
  const alike = models.filter(
    ({ bits, field }) => field.length === best.field.length && bits >= best.bits - ABOUT_THE_SAME_BITS,
  );
  if (alike.length === 1) return best;
  const noise = alike.map(({ field }) => noiseOf(rows, field));
  const most = Math.max(...noise);
  const hard = alike.filter((_, k) => (noise[k] as number) >= 0.97 * most);
  const chosen = hard[0] ?? best;
  // How hard a field is to foretell is itself an estimate, the rougher the fewer frames there are.
  const about = 0.97 - 0.6 / Math.sqrt(Math.min(512, rows.count));
  const rivals = alike.filter(
    ({ field }, k) =>
      (noise[k] as number) >= about * most && sharedBits(field, chosen.field).length < field.length,
  );
  return { ...chosen, rivals: rivals.map(({ field }) => field) };
}

/** More than what places and arrangements cost. */
const ABOUT_THE_SAME_BITS = 16;

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
