/**
 * The two ways to count the bits of a payload in rising significance: little-endian, and big-endian. In both, position
 * mod 8 is the place in the byte, so that everything about byte edges is written once.
 */
export type Order = 'little' | 'big';
export const ORDERS: readonly Order[] = ['little', 'big'];

export interface Lane {
  order: Order;
  /** AUTOSAR bit number of each position. */
  bits: Uint16Array;
  /** What each position is: 0 stands still, 1 moves, 2 is explained otherwise and belongs to no field. */
  state: Uint8Array;
}

export const STILL = 0;
export const MOVES = 1;
export const TAKEN = 2;

export function laneOf(order: Order, length: number, moving: Uint8Array, taken: Uint8Array): Lane {
  const bits = new Uint16Array(8 * length);
  const state = new Uint8Array(8 * length);
  for (let k = 0; k < 8 * length; k++) {
    const bit = order === 'little' ? k : 8 * (length - 1 - (k >> 3)) + (k & 7);
    bits[k] = bit;
    state[k] = taken[bit] ? TAKEN : ((moving[bit >> 3] as number) >> (bit & 7)) & 1 ? MOVES : STILL;
  }
  return { order, bits, state };
}
