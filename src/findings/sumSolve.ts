/**
 * Check fields that are sums or the exclusive-or of bytes: for every place and set of covered bytes, what the field
 * holds beyond the sum must be one and the same constant in all payloads.
 */
import { placeBits } from './covers.ts';
import { bitCount, copiesOnly, differenceSpace } from './crcSolve.ts';
import { RowSpace } from './gf2.ts';

export type SumAlgorithm = 'xor' | 'sum' | 'sumComplement' | 'nibbleSum';

export interface SumSolution {
  algorithm: SumAlgorithm;
  /** nibbleSum only: the sum is subtracted from the constant. */
  complemented: boolean;
  /** AUTOSAR number of the field's lowest bit, and its length, 4 or 8. */
  start: number;
  length: number;
  covers: number[];
  rank: number;
  bits: number;
}

export interface SumSearch {
  solutions: SumSolution[];
  /** Fields for which sums and exclusive-or both fit. */
  undecided: number[];
}

/** Payloads of more moving bytes than this are tried with all of them covered and with runs, not with every subset. */
const SUBSETS_UP_TO = 8;
const ALGORITHM_BITS = 2;
/** Distinct payloads that a guess is tried on; the survivor is checked on all frames afterwards. */
const TRIED = 96;

/**
 * `distinct`: frames with distinct payloads; `groupOf`: frames of one group share their constant (−1: leave out).
 * A single moving byte is never a sum: that is a copy, and copies of signals are common.
 */
export function solveSums(
  payload: Uint8Array,
  length: number,
  moving: Uint8Array,
  distinct: Uint32Array,
  groupOf: (frame: number) => number,
  neededBits: number,
): SumSearch {
  const tried = spreadOver(
    distinct.filter((f) => groupOf(f) >= 0),
    TRIED,
  );
  const search: SumSearch = { solutions: [], undecided: [] };
  const basis = differenceSpace(payload, length, tried, groupOf).rows();
  for (const place of placesOf(length, moving)) {
    if (copiesOnly(basis, length, 8 * place.byte + place.low, place.length)) continue;
    if (followsOneByte(payload, length, tried, groupOf, place, moving)) continue;
    const fits = coverSets(length, moving, place).flatMap((cover) =>
      ALGORITHMS.filter((a) => suits(a, place)).flatMap((a) => {
        if (!constantOver(payload, length, tried, groupOf, place, cover.sum, a)) return [];
        const rank = independentRank(basis, length, cover.sum);
        const bits = place.length * rank - cover.bits - placeBits(length, place.byte) - ALGORITHM_BITS;
        return [
          { ...a, start: 8 * place.byte + place.low, length: place.length, covers: cover.covers, rank, bits },
        ];
      }),
    );
    const good = fits.filter((fit) => fit.bits >= neededBits).sort((a, b) => b.bits - a.bits);
    const best = good[0];
    if (best === undefined) continue;
    // Where nothing ever carries, a sum and an exclusive-or are the same thing.
    const rivals = good.filter((fit) => fit.bits === best.bits);
    if (rivals.length === 1) search.solutions.push(best);
    else search.undecided.push(best.start);
  }
  search.solutions.sort((a, b) => b.bits - a.bits);
  return search;
}

interface Place {
  byte: number;
  /** Lowest bit in the byte, 0 or 4. */
  low: number;
  length: number;
  /** Its top bit moves. */
  full: boolean;
}

interface CoverSet {
  /** Bytes that are added up: the moving ones. */
  sum: number[];
  /** Bytes that are said to be covered: with all that stand still where every moving byte is covered. */
  covers: number[];
  bits: number;
}

const ALGORITHMS: { algorithm: SumAlgorithm; complemented: boolean }[] = [
  { algorithm: 'xor', complemented: false },
  { algorithm: 'sum', complemented: false },
  { algorithm: 'sumComplement', complemented: false },
  { algorithm: 'nibbleSum', complemented: false },
  { algorithm: 'nibbleSum', complemented: true },
];

/** A byte whose top bit never moves is no sum mod 256 of bytes; a sum of half bytes may be that small. */
function suits(a: { algorithm: SumAlgorithm }, place: Place): boolean {
  return a.algorithm === 'nibbleSum' || (place.length === 8 && place.full);
}

/** Bytes in which most bits move, and half bytes in which all do. */
function placesOf(length: number, moving: Uint8Array): Place[] {
  const places: Place[] = [];
  for (let byte = 0; byte < length; byte++) {
    const mask = moving[byte] as number;
    if (bitCount(mask) >= 6) places.push({ byte, low: 0, length: 8, full: (mask & 0x80) !== 0 });
    for (const low of [0, 4]) {
      if (((mask >> low) & 15) === 15) places.push({ byte, low, length: 4, full: true });
    }
  }
  return places;
}

function coverSets(length: number, moving: Uint8Array, place: Place): CoverSet[] {
  const ownRest = place.length === 4 && ((moving[place.byte] as number) & ~(15 << place.low)) !== 0;
  const candidates: number[] = [];
  for (let b = 0; b < length; b++) {
    if (b === place.byte ? ownRest : moving[b] !== 0) candidates.push(b);
  }
  const everything = Array.from({ length }, (_, b) => b).filter(
    (b) => b !== place.byte || place.length === 4,
  );
  const sets: CoverSet[] = [{ sum: candidates, covers: everything, bits: 1 }];
  if (candidates.length <= SUBSETS_UP_TO) {
    for (let set = 1; set < 2 ** candidates.length - 1; set++) {
      const sum = candidates.filter((_, k) => set & (1 << k));
      sets.push({ sum, covers: sum, bits: candidates.length + 2 });
    }
  } else {
    const runBits = Math.ceil(2 * Math.log2(candidates.length)) + 1;
    for (let from = 0; from < candidates.length; from++) {
      for (let to = from + 2; to <= candidates.length; to++) {
        if (to - from === candidates.length) continue;
        const sum = candidates.slice(from, to);
        sets.push({ sum, covers: sum, bits: runBits });
      }
    }
  }
  return sets.filter(({ sum }) => sum.length >= 2);
}

function constantOver(
  payload: Uint8Array,
  length: number,
  frames: Uint32Array,
  groupOf: (frame: number) => number,
  place: Place,
  sum: number[],
  a: { algorithm: SumAlgorithm; complemented: boolean },
): boolean {
  const constants = new Map<number, number>();
  const mask = 2 ** place.length - 1;
  for (const frame of frames) {
    const at = frame * length;
    const field = ((payload[at + place.byte] as number) >> place.low) & mask;
    let total = 0;
    for (const b of sum) {
      let byte = payload[at + b] as number;
      if (b === place.byte) byte &= ~(mask << place.low);
      if (a.algorithm === 'xor') total ^= byte;
      else if (a.algorithm === 'nibbleSum') total += (byte >> 4) + (byte & 15);
      else total += byte;
    }
    const minus = a.algorithm === 'sum' || (a.algorithm === 'nibbleSum' && !a.complemented);
    const constant = (a.algorithm === 'xor' ? field ^ total : minus ? field - total : field + total) & mask;
    const group = groupOf(frame);
    const before = constants.get(group);
    if (before === undefined) constants.set(group, constant);
    else if (before !== constant) return false;
  }
  return true;
}

/**
 * Independent directions in which the covered bytes move, less those of the byte that moves most: what is left cannot
 * be explained by the field being a copy of one byte.
 */
function independentRank(basis: Int32Array[], length: number, sum: number[]): number {
  const rankOf = (bytes: number[]) => {
    const part = new RowSpace(8 * length);
    for (const row of basis) {
      const kept = new Int32Array(row.length);
      for (const b of bytes) {
        kept[b >> 2] = (kept[b >> 2] as number) | ((row[b >> 2] as number) & (0xff << (8 * (b & 3))));
      }
      part.insert(kept);
    }
    return part.rank;
  };
  return rankOf(sum) - Math.max(...sum.map((b) => rankOf([b])));
}

/** A field that one other byte explains, plus or minus a constant, is that byte repeated. */
function followsOneByte(
  payload: Uint8Array,
  length: number,
  frames: Uint32Array,
  groupOf: (frame: number) => number,
  place: Place,
  moving: Uint8Array,
): boolean {
  for (let b = 0; b < length; b++) {
    if (b === place.byte || moving[b] === 0) continue;
    for (const algorithm of ['sum', 'sumComplement'] as const) {
      if (constantOver(payload, length, frames, groupOf, place, [b], { algorithm, complemented: false }))
        return true;
    }
  }
  return false;
}

function spreadOver(frames: Uint32Array, limit: number): Uint32Array {
  if (frames.length <= limit) return frames;
  return Uint32Array.from(
    { length: limit },
    (_, k) => frames[Math.floor((k * frames.length) / limit)] as number,
  );
}
