/**
 * CRC-8 of any polynomial from payload differences. The CRC is affine over GF(2), so in the difference of two payloads
 * start value, final constant, prefix and identifier cancel, and the covered bytes followed by the check byte, read as
 * one polynomial over GF(2), are divisible by the generator. The generator therefore divides the greatest common divisor
 * of a basis of all differences; where that divisor has degree eight it is the generator.
 */
import { type Cover, coversOf, placeBits } from './covers.ts';
import { commonDivisor, degree, divisorsOfDegree, RowSpace } from './gf2.ts';

export interface CrcSolution {
  /** Byte of the check field. */
  byte: number;
  poly: number;
  reflected: boolean;
  covers: number[];
  /** Constant bytes after the covered ones. */
  suffix: number;
  /** Independent payload differences that agree. */
  rank: number;
  /** Evidence in bits: moving bits of the check byte × rank, less the surprise of all that was free to choose. */
  bits: number;
}

export interface CrcSearch {
  /** Solutions, best evidence first; at most one per byte. */
  solutions: CrcSolution[];
  /** Bytes that may hold a CRC of some polynomial but vary too little to tell. */
  undecided: number[];
  /** Bytes that several polynomials explain. */
  several: number[];
  /** Bytes that follow from the others so that nearly every change shows in them, solved or not. */
  determined: number[];
  /** Those of them in which all eight dimensions are reached, from many independent differences. */
  checkLike: number[];
}

/** A generator known from another message of the bus. */
export interface KnownCrc {
  poly: number;
  reflected: boolean;
}

/** Bits of surprise of a polynomial and its bit order: free, or one that the bus is known to use. */
const FREE_POLY_BITS = 8 + 1;
const KNOWN_POLY_BITS = 2;

/**
 * `differences`: the space of payload differences, 8 × `length` columns, bit b of byte k in column 8k + b. `bytes`: where
 * a check may stand. `neededBits`: evidence from which a solution is believed.
 */
export function solveCrc8(
  differences: RowSpace,
  length: number,
  bytes: readonly number[],
  known: readonly KnownCrc[],
  neededBits: number,
): CrcSearch {
  const basis = differences.rows();
  const search: CrcSearch = { solutions: [], undecided: [], several: [], determined: [], checkLike: [] };
  for (const byte of bytes) {
    if (!followsFromTheRest(basis, length, byte)) continue;
    const { live, span } = response(basis, byte);
    if (live >= 0.8 * basis.length) search.determined.push(byte);
    if (live >= 0.9 * basis.length && span === 8 && basis.length >= MANY) search.checkLike.push(byte);
    const best = solveByte(basis, length, byte, known);
    if (best === 'several') search.several.push(byte);
    else if (best !== null && best.bits >= neededBits) search.solutions.push(best);
    else if (best !== null) search.undecided.push(byte);
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

function byteOf(row: Int32Array, b: number): number {
  return ((row[b >> 2] as number) >>> (8 * (b & 3))) & 0xff;
}

function bitOf(row: Int32Array, bit: number): number {
  return ((row[bit >> 5] as number) >>> (bit & 31)) & 1;
}

/**
 * Whether the byte varies, is an affine function of the other bytes, and is more than bits copied from elsewhere (a
 * repeated signal is affine as well).
 */
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
  return varies && !copiesOnly(basis, length, 8 * byte, 8);
}

const MANY = 12;

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

/** Whether each bit of a field in one byte stands still or repeats (or inverts) a single bit of another byte. */
export function copiesOnly(basis: Int32Array[], length: number, start: number, bits: number): boolean {
  const same = (bit: number, other: number) =>
    basis.every((row) => bitOf(row, bit) === (other < 0 ? 0 : bitOf(row, other)));
  for (let bit = start; bit < start + bits; bit++) {
    // −1 stands for a bit that never moves.
    let other = -1;
    while (other < 8 * length && (other >> 3 === start >> 3 || !same(bit, other))) other++;
    if (other === 8 * length) return false;
  }
  return true;
}

/** `several`: more than one polynomial explains the differences. */
function solveByte(
  basis: Int32Array[],
  length: number,
  byte: number,
  known: readonly KnownCrc[],
): CrcSolution | 'several' | null {
  let best: CrcSolution | null = null;
  let several = false;
  // Bits of the byte that never move agree with a polynomial whose low terms are missing, and say nothing for it.
  const moving = bitCount(basis.reduce((mask, row) => mask | byteOf(row, byte), 0));
  for (const cover of coversOf(length, byte)) {
    // No later arrangement can bring more evidence than all differences at this price.
    if (best && best.bits >= moving * basis.length - cover.bits - KNOWN_POLY_BITS) break;
    for (const reflected of [false, true]) {
      const generators = generatorsOf(basis, byte, cover, reflected);
      if (generators === null) continue;
      const familiar = generators.polys.filter((poly) =>
        known.some((k) => k.poly === poly && k.reflected === reflected),
      );
      // No generator in use lacks its last term: such a check would leave its lowest bit unused.
      const usual = generators.polys.filter((poly) => poly & 1);
      const choice = familiar.length > 0 ? familiar : usual.length > 0 ? usual : generators.polys;
      if (choice.length > 1) several = true;
      const poly = choice[0];
      if (choice.length !== 1 || poly === undefined || poly === EXCLUSIVE_OR) continue;
      const polyBits = familiar.length > 0 ? KNOWN_POLY_BITS : FREE_POLY_BITS;
      const bits = moving * generators.rank - cover.bits - placeBits(length, byte) - polyBits;
      if (!best || bits > best.bits) {
        best = {
          byte,
          poly,
          reflected,
          covers: cover.bytes,
          suffix: cover.suffix,
          rank: generators.rank,
          bits,
        };
      }
    }
  }
  return best ?? (several ? 'several' : null);
}

/** x⁸ + 1 is the exclusive-or of all bytes in either bit order; it is found and named as that. */
const EXCLUSIVE_OR = 1;

/** All generators of degree eight that the differences allow; null where they allow none. */
function generatorsOf(basis: Int32Array[], byte: number, cover: Cover, reflected: boolean) {
  let divisor: Int32Array = new Int32Array((cover.bytes.length + cover.suffix + 4) >> 2);
  const codewords = new RowSpace(32 * divisor.length);
  for (const row of basis) {
    const codeword = codewordOf(row, byte, cover, reflected, divisor.length);
    if (degree(codeword) < 0) continue;
    divisor = commonDivisor(divisor, codeword);
    if (degree(divisor) < 8) return null;
    codewords.insert(codeword);
  }
  if (codewords.rank === 0) return null;
  const polys = divisorsOfDegree(divisor, 8).filter((poly) => poly !== 0);
  return polys.length > 0 ? { polys, rank: codewords.rank } : null;
}

/** Covered bytes, first one at the highest powers, then the check byte; bytes bit-reversed where they enter reflected. */
function codewordOf(
  row: Int32Array,
  byte: number,
  cover: Cover,
  reflected: boolean,
  words: number,
): Int32Array {
  const codeword = new Int32Array(words);
  const put = (value: number, place: number) => {
    const bits = reflected ? (REVERSED[value] as number) : value;
    codeword[place >> 2] = (codeword[place >> 2] as number) | (bits << (8 * (place & 3)));
  };
  const { bytes, suffix } = cover;
  bytes.forEach((from, k) => {
    if (from !== byte) put(byteOf(row, from), bytes.length - k + suffix);
  });
  put(byteOf(row, byte), 0);
  return codeword;
}

export function bitCount(mask: number): number {
  let n = 0;
  for (let left = mask; left !== 0; left &= left - 1) n++;
  return n;
}

const REVERSED = Uint8Array.from({ length: 256 }, (_, value) => {
  let out = 0;
  for (let i = 0; i < 8; i++) out |= ((value >> i) & 1) << (7 - i);
  return out;
});
