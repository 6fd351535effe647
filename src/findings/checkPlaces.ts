/**
 * Where in a payload a check field may stand: bytes and half bytes first, then fields of any width and alignment whose
 * bits behave as those of a check do.
 */
import { type BitField, fieldBits } from '../can/bits.ts';
import { RowSpace } from './gf2.ts';

export interface CheckPlace extends BitField {
  /** Bits of surprise: −log2 of how likely a check stands here before looking at any payload. */
  bits: number;
  /** Whether the field is one whole byte. */
  byte: boolean;
  /** Arrangements of covered bytes that cost more than this are not tried. */
  coverBits: number;
}

export const NARROWEST = 4;
export const WIDEST = 32;

/** Surprise of a field that is not one byte but keeps to half bytes, and of one that does not. */
export const HALF_BYTE_BITS = 6;
export const ANYWHERE_BITS = 12;
/** Up to so many fields are all given. */
const FEW = 300;
const ALL_COVERS = 99;
/** All other bytes, those on one side of the field, the same in reverse or with a byte or two after them. */
const USUAL_COVERS = 5;

/** Each whole byte that is free: the last byte is usual, then the first. */
export function bytePlaces(length: number, free: (bits: number[]) => boolean): CheckPlace[] {
  return Array.from({ length }, (_, byte) => wholeByte(length, byte)).filter((p) => free(fieldBits(p)));
}

export function wholeByte(length: number, byte: number): CheckPlace {
  const bits = byte === length - 1 ? 1 : byte === 0 ? 2 : 3;
  return { start: 8 * byte, length: 8, byteOrder: 'little', bits, byte: true, coverBits: ALL_COVERS };
}

export interface PlaceBits {
  /** 1 for bits that behave as those of a check do, by AUTOSAR bit number. */
  lively: Uint8Array;
  /** Whether a check may have these bits. */
  free: (bits: number[]) => boolean;
  /**
   * `grown`: payloads enough were seen for a check to be determined up to its edges and no further, so that where fields
   * are many only those are given that cannot grow, and those that keep to half bytes; `any`: all.
   */
  edges: 'grown' | 'any';
}

/**
 * Fields of 4 to 32 lively bits that the other bits of the payload determine over GF(2), and that are no whole byte.
 * `differences`: the space of payload differences.
 */
export function otherPlaces(differences: RowSpace, length: number, options: PlaceBits): CheckPlace[] {
  const { lively, free, edges } = options;
  const places: CheckPlace[] = [];
  const ungrown = new Set<CheckPlace>();
  for (const byteOrder of ['little', 'big'] as const) {
    const limits = determinedUpTo(differences, length, byteOrder);
    const usable = (step: number) => {
      const bit = bitAt(step, byteOrder);
      return step >= 0 && step < 8 * length && lively[bit] === 1 && free([bit]);
    };
    for (let from = 0; from < 8 * length; from++) {
      for (let width = 1; width <= WIDEST; width++) {
        const last = from + width - 1;
        if (last >= (limits[from] as number) || !usable(last)) break;
        if (width < NARROWEST || (width === 8 && from % 8 === 0)) continue;
        // Inside one byte both orders are the same field.
        if (byteOrder === 'big' && from >> 3 === last >> 3) continue;
        const tidy = from % 4 === 0 && width % 4 === 0;
        const grows =
          (last + 1 < (limits[from] as number) && usable(last + 1)) ||
          (from > 0 && last < (limits[from - 1] as number) && usable(from - 1));
        const coverBits = tidy || (edges === 'grown' && !grows) ? ALL_COVERS : USUAL_COVERS;
        const bits = tidy ? HALF_BYTE_BITS : ANYWHERE_BITS;
        const start = bitAt(from, byteOrder);
        const place = { start, length: width, byteOrder, bits, byte: false, coverBits };
        places.push(place);
        if (grows && !tidy) ungrown.add(place);
      }
    }
  }
  return edges === 'any' || places.length <= FEW ? places : places.filter((place) => !ungrown.has(place));
}

/** AUTOSAR number of the bit at `step` of the walk that a field of this byte order takes through the payload. */
function bitAt(step: number, byteOrder: 'little' | 'big'): number {
  return byteOrder === 'little' ? step : step ^ 7;
}

/**
 * For each bit of the walk the first bit up to which a field that begins there cannot reach: two payloads that differ
 * inside it alone exist. A basis whose vectors have distinct first and distinct last bits shows that at once: the
 * vectors that lie inside a field are spanned by those of the basis that do.
 */
function determinedUpTo(differences: RowSpace, length: number, byteOrder: 'little' | 'big'): Int32Array {
  const space = new RowSpace(8 * length);
  for (const row of differences.rows()) space.insert(byteOrder === 'little' ? row.slice() : mirrored(row));
  const byLast = new Map<number, { row: Int32Array; first: number }>();
  for (const echelon of space.rows()) {
    let row: Int32Array = echelon.slice();
    let first = firstBit(row);
    for (let last = lastBit(row); ; last = lastBit(row)) {
      const other = byLast.get(last);
      if (!other) {
        byLast.set(last, { row, first });
        break;
      }
      // The one that begins earlier takes the other in: its first bit stays, its last bit sinks.
      if (first > other.first) {
        byLast.set(last, { row, first });
        ({ row, first } = other);
      }
      const adder = byLast.get(last)?.row as Int32Array;
      row = row.map((word, k) => word ^ (adder[k] as number));
    }
  }
  const limits = new Int32Array(8 * length).fill(8 * length);
  for (const [last, { first }] of byLast) limits[first] = Math.min(limits[first] as number, last);
  for (let from = 8 * length - 2; from >= 0; from--) {
    limits[from] = Math.min(limits[from] as number, limits[from + 1] as number);
  }
  return limits;
}

/** The bits of every byte in reverse. */
function mirrored(row: Int32Array): Int32Array {
  return row.map((word) => {
    let v = word;
    v = ((v >>> 1) & 0x5555_5555) | ((v & 0x5555_5555) << 1);
    v = ((v >>> 2) & 0x3333_3333) | ((v & 0x3333_3333) << 2);
    return ((v >>> 4) & 0x0f0f_0f0f) | ((v & 0x0f0f_0f0f) << 4);
  });
}

function firstBit(row: Int32Array): number {
  const w = row.findIndex((word) => word !== 0);
  const word = row[w] as number;
  return 32 * w + 31 - Math.clz32(word & -word);
}

function lastBit(row: Int32Array): number {
  const w = row.findLastIndex((word) => word !== 0);
  return 32 * w + 31 - Math.clz32(row[w] as number);
}
