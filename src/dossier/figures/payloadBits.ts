/** Where payload bits and fields lie in a drawing of the payload, for the strip and for its small form. */
import { type BitField, fieldBits } from '../../can/bits.ts';

/**
 * How the bits of a byte are laid out from left to right: `falling` 7 … 0, as they go over the wire, so that a big-endian field
 * is one piece; `rising` 0 … 7, so that a little-endian field is one piece.
 */
export type BitLayout = 'falling' | 'rising';

/** Columns of a drawing that belong to one field and touch each other, inclusive. */
export interface Piece {
  first: number;
  last: number;
}

/** Column of a bit, counted from the left of the payload. */
export function columnOf(bit: number, layout: BitLayout): number {
  return layout === 'rising' ? bit : (bit & ~7) | (7 - (bit & 7));
}

/** The touching groups of columns that a field covers, left to right; a group ends where a row of the drawing ends. */
export function piecesOf(place: BitField, layout: BitLayout, columnsPerRow: number): Piece[] {
  const columns = fieldBits(place)
    .map((bit) => columnOf(bit, layout))
    .sort((a, b) => a - b);
  const pieces: Piece[] = [];
  for (const column of columns) {
    const open = pieces.at(-1);
    if (open && open.last === column - 1 && column % columnsPerRow !== 0) open.last = column;
    else pieces.push({ first: column, last: column });
  }
  return pieces;
}

/** Column of the most significant bit of a field. */
export function topColumn(place: BitField, layout: BitLayout): number {
  return columnOf(fieldBits(place).at(-1) as number, layout);
}

/** Share of the full bar height for a share of frames: the square root, so that one change in a hundred frames still shows. */
export function barShare(flipRate: number): number {
  return Math.sqrt(Math.min(1, Math.max(0, flipRate)));
}
