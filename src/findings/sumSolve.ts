/**
 * Check fields that are sums or the exclusive-or of bytes: for every place and set of covered bytes, what the field
 * holds beyond the sum must be one and the same constant in all payloads.
 */
import { fieldBits, readBits } from '../can/bits.ts';
import { ANYWHERE_BITS, type CheckPlace, HALF_BYTE_BITS, wholeByte } from './checkPlaces.ts';
import { bytesOfField } from './covers.ts';
import { copiesOnly, differenceSpace } from './crcSolve.ts';
import { RowSpace } from './gf2.ts';

export type SumAlgorithm = 'xor' | 'sum' | 'sumComplement' | 'nibbleSum';

export interface SumSolution {
  algorithm: SumAlgorithm;
  /** nibbleSum only: the sum is subtracted from the constant. */
  complemented: boolean;
  /** The field, of 4, 8 or 16 bits. */
  place: CheckPlace;
  covers: number[];
  rank: number;
  bits: number;
}

export interface SumSearch {
  solutions: SumSolution[];
  /** Fields for which sums and exclusive-or both fit. */
  undecided: CheckPlace[];
}

/** Payloads of more moving bytes than this are tried with all of them covered and with runs, not with every subset. */
const SUBSETS_UP_TO = 8;
const ALGORITHM_BITS = 2;
/** Distinct payloads that a guess is tried on; the survivor is checked on all frames afterwards. */
const TRIED = 96;

/**
 * `distinct`: frames with distinct payloads; `groupOf`: frames of one group share their constant (−1: leave out);
 * `free`: whether a check may have these bits.
 * A single moving byte is never a sum: that is a copy, and copies of signals are common.
 */
export function solveSums(
  payload: Uint8Array,
  length: number,
  moving: Uint8Array,
  distinct: Uint32Array,
  groupOf: (frame: number) => number,
  free: (bits: number[]) => boolean,
  neededBits: number,
): SumSearch {
  const frames = spreadOver(
    distinct.filter((f) => groupOf(f) >= 0),
    TRIED,
  );
  const search: SumSearch = { solutions: [], undecided: [] };
  const basis = differenceSpace(payload, length, frames, groupOf).rows();
  const bytes = new Uint8Array(frames.length * length);
  frames.forEach((f, k) => {
    bytes.set(payload.subarray(f * length, (f + 1) * length), k * length);
  });
  const tried = { bytes, length, groups: Uint32Array.from(frames, groupOf) };
  const moves = (bit: number) => ((moving[bit >> 3] as number) >> (bit & 7)) & 1;
  for (const at of sumPlaces(length, moves, free)) {
    const bits = fieldBits(at);
    if (copiesOnly(basis, length, bits)) continue;
    // The upper bits of a long sum say something only where a carry reached them.
    const movingBits = at.length > 8 ? bits.reduce((n, bit) => n + moves(bit), 0) : at.length;
    const held = Uint32Array.from(frames, (_, k) => readBits(bytes, k * length, at));
    const place = {
      at,
      full: moves(bits[bits.length - 1] as number) === 1,
      own: ownBits(length, bits),
      held,
    };
    if (followsOneByte(tried, place, moving)) continue;
    const fits = coverSets(length, moving, place).flatMap((cover) =>
      ALGORITHMS.filter((a) => suits(a, place)).flatMap((a) => {
        if (!constantOver(tried, place, cover.sum, a)) return [];
        const rank = independentRank(basis, length, cover.sum, place.own);
        const evidence = movingBits * rank - cover.bits - at.bits - ALGORITHM_BITS;
        return [{ ...a, place: at, covers: cover.covers, rank, bits: evidence }];
      }),
    );
    const good = fits.filter((fit) => fit.bits >= neededBits).sort((a, b) => b.bits - a.bits);
    const best = good[0];
    if (best === undefined) continue;
    // Where nothing ever carries, a sum and an exclusive-or are the same thing.
    const rivals = good.filter((fit) => fit.bits === best.bits);
    if (rivals.length === 1 && !widerFits(tried, best, length)) search.solutions.push(best);
    else search.undecided.push(best.place);
  }
  search.solutions.sort((a, b) => b.bits - a.bits);
  return search;
}

interface Place {
  at: CheckPlace;
  /** Its top bit moves. */
  full: boolean;
  /** Per payload byte the bits of the field. */
  own: Uint8Array;
  /** What the field holds in each payload that is tried. */
  held: Uint32Array;
}

/** The payloads that are tried, and which of them share a constant. */
interface Tried {
  bytes: Uint8Array;
  length: number;
  groups: Uint32Array;
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

/**
 * A byte whose top bit never moves is no sum mod 256 of bytes; a sum of half bytes may be that small. The exclusive-or of
 * bytes has 8 bits; a sum in 16 bits need not reach its top.
 */
function suits({ algorithm }: { algorithm: SumAlgorithm }, { at, full }: Place): boolean {
  if (algorithm === 'nibbleSum') return at.length <= 8;
  if (algorithm === 'xor') return at.length === 8 && full;
  return full || at.length === 16;
}

/** Bytes in which most bits move, half bytes in which all do, then fields of 4, 8 and 16 bits elsewhere. */
function sumPlaces(
  length: number,
  moves: (bit: number) => number,
  free: (bits: number[]) => boolean,
): CheckPlace[] {
  const places: CheckPlace[] = [];
  const add = (place: CheckPlace, least: number) => {
    const bits = fieldBits(place);
    if (bits.some((bit) => bit < 0 || bit >= 8 * length)) return;
    if (!place.byte && place.bits > HALF_BYTE_BITS && !free(bits)) return;
    const moving = bits.reduce((n, bit) => n + moves(bit), 0);
    if (moving >= least && moves(bits[0] as number)) places.push(place);
  };
  for (let byte = 0; byte < length; byte++) {
    const whole = wholeByte(length, byte);
    add(whole, 6);
    for (const low of [0, 4]) {
      add({ ...whole, start: 8 * byte + low, length: 4, byte: false }, 4);
    }
    for (const byteOrder of ['little', 'big'] as const) {
      const start = byteOrder === 'little' ? 8 * byte : 8 * byte + 7;
      add({ ...whole, start, length: 16, byteOrder, bits: HALF_BYTE_BITS, byte: false }, 9);
    }
  }
  for (let start = 0; start < 8 * length; start++) {
    for (const width of [4, 8]) {
      for (const byteOrder of ['little', 'big'] as const) {
        const last = byteOrder === 'little' ? start + width - 1 : start - width + 1;
        const inside = last >= 0 && last >> 3 === start >> 3;
        const known = inside && (width === 8 || Math.min(start, last) % 4 === 0);
        if (known || (inside && byteOrder === 'big')) continue;
        add(
          { start, length: width, byteOrder, bits: ANYWHERE_BITS, byte: false, coverBits: 0 },
          Math.min(width, 6),
        );
      }
    }
  }
  return places;
}

/** Whether a sum of four bits goes on above them: then its width cannot be told. */
function widerFits(tried: Tried, best: SumSolution, length: number): boolean {
  if (best.place.length !== 4) return false;
  const low = fieldBits(best.place)[0] as number;
  const upward = { ...best.place, start: low, length: 8, byteOrder: 'little' as const };
  // Eight bits in big-endian order from the same lowest bit begin where that order reaches seven steps before it.
  const downward = { ...best.place, start: ((low ^ 7) - 7) ^ 7, length: 8, byteOrder: 'big' as const };
  return [upward, downward].some((at) => {
    if (at.start < 0 || Math.max(...fieldBits(at)) >= 8 * length) return false;
    const held = Uint32Array.from(tried.groups, (_, k) => readBits(tried.bytes, k * length, at));
    const own = ownBits(length, fieldBits(at));
    const place = { at, full: true, own, held };
    return constantOver(tried, place, best.covers, best);
  });
}

function ownBits(length: number, bits: readonly number[]): Uint8Array {
  const own = new Uint8Array(length);
  for (const bit of bits) own[bit >> 3] = (own[bit >> 3] as number) | (1 << (bit & 7));
  return own;
}

function coverSets(length: number, moving: Uint8Array, place: Place): CoverSet[] {
  const { full } = bytesOfField(place.at);
  const candidates: number[] = [];
  for (let b = 0; b < length; b++) {
    if (((moving[b] as number) & ~(place.own[b] as number)) !== 0) candidates.push(b);
  }
  const everything = Array.from({ length }, (_, b) => b).filter((b) => !full.includes(b));
  const sets: CoverSet[] = [{ sum: candidates, covers: everything, bits: 1 }];
  const apart = candidates.filter((b) => place.own[b] === 0);
  if (apart.length < candidates.length) {
    sets.push({ sum: apart, covers: everything.filter((b) => place.own[b] === 0), bits: 3 });
  }
  const tidy = place.at.byte || (place.at.length === 4 && place.at.start % 4 === 0);
  if (tidy && candidates.length <= SUBSETS_UP_TO) {
    for (let set = 1; set < 2 ** candidates.length - 1; set++) {
      const sum = candidates.filter((_, k) => set & (1 << k));
      if (sum.length !== apart.length || sum.some((b) => !apart.includes(b)))
        sets.push({ sum, covers: sum, bits: candidates.length + 2 });
    }
  } else if (place.at.bits <= HALF_BYTE_BITS) {
    const runBits = Math.ceil(2 * Math.log2(Math.max(2, candidates.length))) + 1;
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
  { bytes, length, groups }: Tried,
  { at: field, own, held }: Place,
  sum: number[],
  a: { algorithm: SumAlgorithm; complemented: boolean },
): boolean {
  const constants: (number | undefined)[] = [];
  const mask = 2 ** field.length - 1;
  const minus = a.algorithm === 'sum' || (a.algorithm === 'nibbleSum' && !a.complemented);
  for (let k = 0, at = 0; k < groups.length; k++, at += length) {
    let total = 0;
    for (const b of sum) {
      const byte = (bytes[at + b] as number) & ~(own[b] as number);
      if (a.algorithm === 'xor') total ^= byte;
      else if (a.algorithm === 'nibbleSum') total += (byte >> 4) + (byte & 15);
      else total += byte;
    }
    const value = held[k] as number;
    const constant = (a.algorithm === 'xor' ? value ^ total : minus ? value - total : value + total) & mask;
    const group = groups[k] as number;
    const before = constants[group];
    if (before === undefined) constants[group] = constant;
    else if (before !== constant) return false;
  }
  return true;
}

/**
 * Independent directions in which the covered bytes move, less those of the byte that moves most: what is left cannot
 * be explained by the field being a copy of one byte.
 */
function independentRank(basis: Int32Array[], length: number, sum: number[], own: Uint8Array): number {
  const rankOf = (bytes: number[]) => {
    const part = new RowSpace(8 * length);
    for (const row of basis) {
      const kept = new Int32Array(row.length);
      for (const b of bytes) {
        kept[b >> 2] =
          (kept[b >> 2] as number) |
          ((row[b >> 2] as number) & ((0xff & ~(own[b] as number)) << (8 * (b & 3))));
      }
      part.insert(kept);
    }
    return part.rank;
  };
  return rankOf(sum) - Math.max(...sum.map((b) => rankOf([b])));
}

/** A field that one other byte explains, plus or minus a constant, is that byte repeated. */
function followsOneByte(tried: Tried, place: Place, moving: Uint8Array): boolean {
  for (let b = 0; b < moving.length; b++) {
    if (((moving[b] as number) & ~(place.own[b] as number)) === 0) continue;
    for (const algorithm of ['sum', 'sumComplement'] as const) {
      if (constantOver(tried, place, [b], { algorithm, complemented: false })) return true;
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
