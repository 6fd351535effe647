/**
 * CRCs of any width and polynomial from payload differences. The CRC is affine over GF(2), so in the difference of two
 * payloads start value, final constant, prefix and identifier cancel, and the covered bytes followed by the check field,
 * read as one polynomial over GF(2), are divisible by the generator. The generator therefore divides the greatest common
 * divisor of a basis of all differences; where that divisor has the degree of the field it is the generator.
 */
import { fieldBits } from '../can/bits.ts';
import type { CheckPlace } from './checkPlaces.ts';
import { bitOf, byteOf, type CodewordPlace, codewordOf, codewordPlace, codewordWords } from './codeword.ts';
import { type Cover, coversOf } from './covers.ts';
import { commonDivisor, degree, divides, divisorsOfDegree, RowSpace } from './gf2.ts';
import { PUBLISHED_CRCS } from './published.ts';

export interface CrcSolution {
  place: CheckPlace;
  poly: number;
  reflected: boolean;
  covers: number[];
  /** Constant bytes after the covered ones. */
  suffix: number;
  /** Independent payload differences that agree. */
  rank: number;
  /** Evidence in bits: moving bits of the field × rank, less the surprise of all that was free to choose. */
  bits: number;
}

export interface CrcSearch {
  /** Solutions, best evidence first; at most one per place. */
  solutions: CrcSolution[];
  /** Places that may hold a CRC of some polynomial but vary too little to tell. */
  undecided: CheckPlace[];
  /** Places that several polynomials explain. */
  several: CheckPlace[];
  /** Places that follow from the rest so that nearly every change shows in them, solved or not. */
  determined: CheckPlace[];
  /** Those bytes among them in which all eight dimensions are reached, from many independent differences. */
  checkLike: CheckPlace[];
}

/** A generator known from another message of the bus. */
export interface KnownCrc {
  width: number;
  poly: number;
  reflected: boolean;
}

/** Bits of surprise of a generator and its bit order: free (its terms and one), published, or in use on this bus. */
const freeBits = (width: number) => width + 1;
const PUBLISHED_BITS = 5;
const KNOWN_POLY_BITS = 2;
/** Among several generators of this width or more the published one is believed; below it chance gives one too easily. */
const PUBLISHED_FROM = 12;
/** Fewer independent differences than this say nothing about fields that are no whole byte. */
const LEAST_RANK = 5;

/** `differences`: the space of payload differences, 8 × `length` columns, bit b of byte k in column 8k + b. */
export function solveCrcs(
  differences: RowSpace,
  length: number,
  places: readonly CheckPlace[],
  known: readonly KnownCrc[],
  neededBits: number,
): CrcSearch {
  const basis = differences.rows();
  const search: CrcSearch = { solutions: [], undecided: [], several: [], determined: [], checkLike: [] };
  for (const place of places) {
    const bits = fieldBits(place);
    if (place.byte && !followsFromTheRest(basis, length, place.start >> 3)) continue;
    if (copiesOnly(basis, length, bits)) continue;
    if (place.byte) {
      const { live, span } = response(basis, place.start >> 3);
      if (live >= 0.8 * basis.length) search.determined.push(place);
      if (live >= 0.9 * basis.length && span === 8 && basis.length >= MANY) search.checkLike.push(place);
    }
    if (!place.byte && basis.length < LEAST_RANK) {
      search.undecided.push(place);
      continue;
    }
    const best = solvePlace(basis, length, place, bits, known);
    if (best === 'several') search.several.push(place);
    else if (best !== null && best.bits >= neededBits) search.solutions.push(best);
    else if (best !== null) search.undecided.push(place);
  }
  search.solutions.sort((a, b) => b.bits - a.bits);
  return search;
}

/** The space of differences of payloads within each group; `groupOf` gives −1 for frames to leave out. */
export function differenceSpace(
  payload: Uint8Array,
  length: number,
  frames: ArrayLike<number>,
  groupOf: (frame: number) => number,
): RowSpace {
  const space = new RowSpace(8 * length);
  const first = new Map<number, number>();
  const row = new Int32Array(space.words);
  for (let k = 0; k < frames.length; k++) {
    const frame = frames[k] as number;
    const group = groupOf(frame);
    if (group < 0) continue;
    const reference = first.get(group);
    if (reference === undefined) {
      first.set(group, frame);
      continue;
    }
    row.fill(0);
    for (let b = 0; b < length; b++) {
      const d = (payload[frame * length + b] as number) ^ (payload[reference * length + b] as number);
      row[b >> 2] = (row[b >> 2] as number) | (d << (8 * (b & 3)));
    }
    space.insert(row);
  }
  return space;
}

/** Whether the byte varies and is an affine function of the other bytes. */
function followsFromTheRest(basis: Int32Array[], length: number, byte: number): boolean {
  let varies = false;
  const rest = new RowSpace(8 * length);
  for (const row of basis) {
    if (byteOf(row, byte) !== 0) varies = true;
    const others = row.slice();
    others[byte >> 2] = (others[byte >> 2] as number) & ~(0xff << (8 * (byte & 3)));
    // Two differences that agree in all other bytes but not in this one: no function of them.
    if (rest.insert(others) < 0) return false;
  }
  return varies;
}

const MANY = 10;
/** Share of its bits that a check moves when that many differences reach it. */
const LEAST_MOVING = 0.75;

/** Differences that show in the byte, and dimensions that it takes; a CRC misses one difference in 256. */
function response(basis: Int32Array[], byte: number): { live: number; span: number } {
  const space = new RowSpace(8);
  let live = 0;
  for (const row of basis) {
    const value = byteOf(row, byte);
    if (value !== 0) live++;
    space.insert(Int32Array.of(value));
  }
  return { live, span: space.rank };
}

/** Whether each bit of a field stands still or repeats (or inverts) a single bit outside it. */
export function copiesOnly(basis: Int32Array[], length: number, bits: readonly number[]): boolean {
  const own = new Set(bits);
  const same = (bit: number, other: number) =>
    basis.every((row) => bitOf(row, bit) === (other < 0 ? 0 : bitOf(row, other)));
  for (const bit of bits) {
    // −1 stands for a bit that never moves.
    let other = -1;
    while (other < 8 * length && (own.has(other) || !same(bit, other))) other++;
    if (other === 8 * length) return false;
  }
  return true;
}

/** `several`: more than one polynomial explains the differences. */
function solvePlace(
  basis: Int32Array[],
  length: number,
  place: CheckPlace,
  bits: readonly number[],
  known: readonly KnownCrc[],
): CrcSolution | 'several' | null {
  const width = place.length;
  const prepared = codewordPlace(length, place);
  let best: CrcSolution | null = null;
  let several = false;
  // Bits of the field that never move agree with a polynomial whose low terms are missing, and say nothing for it.
  const moving = bits.filter((bit) => basis.some((row) => bitOf(row, bit) === 1)).length;
  if (basis.length >= MANY && moving < LEAST_MOVING * width) return null;
  for (const cover of coversOf(length, place)) {
    if (cover.bits > place.coverBits) break;
    // No later arrangement can bring more evidence than all differences at this price.
    if (best && best.bits >= moving * basis.length - cover.bits - KNOWN_POLY_BITS) break;
    for (const reflected of [false, true]) {
      const generators = generatorsOf(basis, prepared, cover, reflected, known);
      if (generators === null) continue;
      const { polys, price } = chosen(generators.polys, { width, reflected }, known);
      if (polys.length > 1) several = true;
      const [poly] = polys;
      if (polys.length !== 1 || poly === undefined) continue;
      const rank = generators.rank - (poly === EXCLUSIVE_OR ? ONE_BYTE : 0);
      const evidence = moving * rank - cover.bits - place.bits - price;
      if (best && evidence <= best.bits) continue;
      best = {
        place,
        poly,
        reflected,
        covers: cover.bytes,
        suffix: cover.suffix,
        rank: generators.rank,
        bits: evidence,
      };
    }
  }
  return best ?? (several ? 'several' : null);
}

/**
 * x^m + 1 is the exclusive-or of m bits at a time in either bit order. That of bytes is found and named as a sum is; where
 * fewer or more bits are taken, one byte that moves explains none of the evidence, as its copy would do the same.
 */
const EXCLUSIVE_OR = 1;
const ONE_BYTE = 8;

/**
 * Whether a generator is one that anybody would use. One without its last term leaves its lowest bits unused, so that the
 * field is a narrower one, which is tried by itself; a power of x + 1 follows from an exclusive-or of bytes.
 */
function usable(poly: number, width: number): boolean {
  if ((poly & 1) === 0) return false;
  if (width > 8) return true;
  let power = 1;
  for (let k = 0; k < width; k++) power ^= power << 1;
  return poly !== (power ^ (1 << width)) || (poly === EXCLUSIVE_OR && width < 8);
}

/** Of the generators that fit, those of the likeliest kind, and what it costs to suppose that kind. */
function chosen(
  polys: readonly number[],
  { width, reflected }: { width: number; reflected: boolean },
  known: readonly KnownCrc[],
): { polys: readonly number[]; price: number } {
  const among = (list: readonly KnownCrc[]) =>
    polys.filter((poly) =>
      list.some((k) => k.width === width && k.poly === poly && k.reflected === reflected),
    );
  const familiar = among(known);
  if (familiar.length > 0) return { polys: familiar, price: KNOWN_POLY_BITS };
  const published = among(PUBLISHED_CRCS);
  const price = polys.length === 1 && published.length === 1 ? PUBLISHED_BITS : freeBits(width);
  if (polys.length > 1 && published.length === 1 && width >= PUBLISHED_FROM) {
    return { polys: published, price: freeBits(width) };
  }
  return { polys, price };
}

/** All generators of the field's width that the differences allow; null where they allow none, or too many to try. */
function generatorsOf(
  basis: Int32Array[],
  place: CodewordPlace,
  cover: Cover,
  reflected: boolean,
  known: readonly KnownCrc[],
) {
  const width = place.bits.length;
  const words = codewordWords(cover, width);
  let divisor: Int32Array = new Int32Array(words);
  const all: Int32Array[] = [];
  for (const row of basis) {
    const codeword = codewordOf(row, place, cover, reflected, words);
    if (degree(codeword) < 0) continue;
    divisor = commonDivisor(divisor, codeword);
    if (degree(divisor) < width) return null;
    all.push(codeword);
  }
  const codewords = new RowSpace(32 * words);
  for (const codeword of all) codewords.insert(codeword);
  if (codewords.rank === 0) return null;
  const divisors = divisorsOfDegree(divisor, width) ?? knownDivisors(divisor, width, reflected, known);
  const polys = divisors.filter((poly) => usable(poly, width));
  return polys.length > 0 ? { polys, rank: codewords.rank } : null;
}

/** Where too many divisors are possible to try them all: those that somebody uses. */
function knownDivisors(
  divisor: Int32Array,
  width: number,
  reflected: boolean,
  known: readonly KnownCrc[],
): number[] {
  const list = [...known, ...PUBLISHED_CRCS].filter((k) => k.width === width && k.reflected === reflected);
  const polys = new Set(list.map((k) => k.poly));
  return [...polys].filter((poly) => divides(poly, width, divisor));
}

export function bitCount(mask: number): number {
  let n = 0;
  for (let left = mask; left !== 0; left &= left - 1) n++;
  return n;
}
