/** Where payload bits and fields lie in a drawing of the payload, for the strip and for its small form. */

/**
 * How the bits of a byte are laid out from left to right: `falling` 7 … 0, as they go over the wire, so that a big-endian field
 * is one piece; `rising` 0 … 7, so that a little-endian field is one piece.
 */
export type BitLayout = 'falling' | 'rising';

/** The place of a field: AUTOSAR bit number of its lowest (little-endian) or highest (big-endian) bit, and its length. */
export interface FieldPlace {
  start: number;
  length: number;
  byteOrder: 'little' | 'big';
}

/** Columns of a drawing that belong to one field and touch each other, inclusive. */
export interface Piece {
  first: number;
  last: number;
}

/** Column of a bit, counted from the left of the payload. */
export function columnOf(bit: number, layout: BitLayout): number {
  return layout === 'rising' ? bit : (bit & ~7) | (7 - (bit & 7));
}

/** AUTOSAR bit numbers of a field from its least to its most significant bit. */
export function bitsOf(place: FieldPlace): number[] {
  const { start, length, byteOrder } = place;
  if (byteOrder === 'little') return Array.from({ length }, (_, i) => start + i);
  // Big-endian bits run down through each byte and on to the highest bit of the next: straight on in falling columns.
  const column = columnOf(start, 'falling');
  return Array.from({ length }, (_, i) => columnOf(column + i, 'falling')).reverse();
}

/** The touching groups of columns that a field covers, left to right; a group ends where a row of the drawing ends. */
export function piecesOf(place: FieldPlace, layout: BitLayout, columnsPerRow: number): Piece[] {
  const columns = bitsOf(place)
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
export function topColumn(place: FieldPlace, layout: BitLayout): number {
  return columnOf(bitsOf(place).at(-1) as number, layout);
}

/** Share of the full bar height for a share of frames: the square root, so that one change in a hundred frames still shows. */
export function barShare(flipRate: number): number {
  return Math.sqrt(Math.min(1, Math.max(0, flipRate)));
}
