/** Fields of a payload as nodes: a number out of payload bytes, and payload bytes out of numbers. */
import type { BitField, Signedness } from '../can/bits.ts';
import type { ProgramBuilder } from './builder.ts';
import { LogicError } from './error.ts';
import type { NodeId } from './form.ts';

/** A field as in can/bits.ts, of at most 31 bits. */
export interface Field extends BitField {
  signed: Signedness;
}

/** Raw value of a field out of payload bytes (nodes, each 0 … 255). Throws `LogicError` for a field outside the payload. */
export function extract(b: ProgramBuilder, bytes: readonly NodeId[], field: Field): NodeId {
  const pieces = piecesOf(field, bytes.length);
  const raw = pieces
    .map((p) => b.mulk(b.wrap(b.divk(bytes[p.byte] as NodeId, 2 ** p.low), p.count), 2 ** p.weight))
    .reduce((sum, part) => b.add(sum, part));
  if (field.signed === false) return raw;
  const half = 2 ** (field.length - 1);
  if (field.signed === true) return b.sub(b.xor(raw, b.const(half)), b.const(half));
  const magnitude = field.length === 1 ? b.const(0) : b.wrap(raw, field.length - 1);
  return b.select(b.le(b.const(half), raw), b.sub(b.const(0), magnitude), magnitude);
}

/** One bit of a payload as a truth value. */
export function extractBit(b: ProgramBuilder, bytes: readonly NodeId[], bit: number): NodeId {
  return b.eq(extract(b, bytes, { start: bit, length: 1, byteOrder: 'little', signed: false }), b.const(1));
}

/**
 * Payload bytes that hold values in their fields and `background` (constant bytes, default 0) elsewhere. Values are numbers
 * or truth values whose interval fits the field. Throws `LogicError` for a field outside the payload, fields that share a
 * bit, and a value that does not fit.
 */
export function pack(
  b: ProgramBuilder,
  length: number,
  fields: readonly { field: Field; value: NodeId }[],
  background: readonly number[] = [],
): NodeId[] {
  const taken = new Uint8Array(length);
  const parts: NodeId[][] = Array.from({ length }, () => []);
  for (const { field, value } of fields) {
    const raw = rawOf(b, field, value);
    for (const p of piecesOf(field, length)) {
      const mask = (2 ** p.count - 1) * 2 ** p.low;
      if ((taken[p.byte] as number) & mask)
        throw new LogicError(
          `two fields share bits of byte ${p.byte}, one of them the field at bit ${field.start}`,
        );
      taken[p.byte]! |= mask;
      parts[p.byte]?.push(b.mulk(b.wrap(b.divk(raw, 2 ** p.weight), p.count), 2 ** p.low));
    }
  }
  return parts.map((list, i) => {
    const rest = (background[i] ?? 0) & ~(taken[i] as number) & 255;
    return [...list, b.const(rest)].reduce((sum, part) => b.add(sum, part));
  });
}

/** Payload bytes (nodes) with the bits of one field replaced by a value whose interval fits it. */
export function insert(b: ProgramBuilder, bytes: readonly NodeId[], field: Field, value: NodeId): NodeId[] {
  const raw = rawOf(b, field, value);
  const changed = [...bytes];
  for (const p of piecesOf(field, bytes.length)) {
    const byte = bytes[p.byte] as NodeId;
    const above = b.mulk(b.divk(byte, 2 ** (p.low + p.count)), 2 ** (p.low + p.count));
    const below = p.low === 0 ? b.const(0) : b.wrap(byte, p.low);
    const part = b.mulk(b.wrap(b.divk(raw, 2 ** p.weight), p.count), 2 ** p.low);
    changed[p.byte] = b.add(b.add(above, part), below);
  }
  return changed;
}

interface Piece {
  byte: number;
  /** Lowest bit of the piece in the byte, and how many bits. */
  low: number;
  count: number;
  /** Bit of the value that stands at `low`. */
  weight: number;
}

/** The stretches of a field within single bytes, least significant first. */
function piecesOf(field: Field, bytes: number): Piece[] {
  const { start, length, byteOrder } = field;
  if (!Number.isInteger(start) || !Number.isInteger(length) || start < 0 || length < 1)
    throw new LogicError(
      `field at bit ${start}, ${length} bits long: start and length must be integers, length at least 1`,
    );
  if (length > 31)
    throw new LogicError(`field at bit ${start} has ${length} bits; logic programs compute with at most 31`);
  const pieces: Piece[] = [];
  if (byteOrder === 'little') {
    for (let weight = 0, bit = start; weight < length; ) {
      const low = bit % 8;
      const count = Math.min(8 - low, length - weight);
      pieces.push({ byte: Math.floor(bit / 8), low, count, weight });
      weight += count;
      bit += count;
    }
  } else {
    let left = length;
    let high = start % 8;
    for (let byte = Math.floor(start / 8); left > 0; byte++, high = 7) {
      const count = Math.min(high + 1, left);
      left -= count;
      pieces.unshift({ byte, low: high - count + 1, count, weight: left });
    }
  }
  if (pieces.some((p) => p.byte >= bytes))
    throw new LogicError(
      `field at bit ${start} (${byteOrder}-endian, ${length} bits) does not fit a payload of ${bytes} bytes`,
    );
  return pieces;
}

/** The bits of a value as a number ≥ 0. */
function rawOf(b: ProgramBuilder, field: Field, value: NodeId): NodeId {
  const number = b.type(value) === 'bool' ? b.select(value, b.const(1), b.const(0)) : value;
  const { lo, hi } = b.interval(number);
  const magnitude = 2 ** (field.length - (field.signed === false ? 0 : 1)) - 1;
  const least = field.signed === false ? 0 : field.signed === true ? -magnitude - 1 : -magnitude;
  if (lo < least || hi > magnitude)
    throw new LogicError(
      `a value of ${lo} … ${hi} does not fit the field at bit ${field.start} (${field.length} bits, ${least} … ${magnitude})`,
    );
  if (lo >= 0) return number;
  const half = b.const(2 ** (field.length - 1));
  if (field.signed === true) return b.xor(b.add(number, half), half);
  return b.add(b.abs(number), b.select(b.lt(number, b.const(0)), half, b.const(0)));
}
