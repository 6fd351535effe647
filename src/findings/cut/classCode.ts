/**
 * Residuals by size class (the bit length of their size), told in the context of the class before; signs and the bits
 * below the leading one are told apart from that.
 */
import type { GammaTables } from './logGamma.ts';

export const LN2 = Math.LN2;
const SYMBOLS = 34;
const CONTEXTS = 9;
/** Symbols that are no residual: the first value, and "not available". */
export const FIRST = 32;
export const NOT_AVAILABLE = 33;
const AFTER_NOT_AVAILABLE = 8;

/** Counts of one class code: symbols by context, signs by context, and the bits below the leading one. */
export class ClassCode {
  /** Plain fields and integers: this is the innermost loop of all findings. */
  readonly symbols = new Uint32Array(CONTEXTS * SYMBOLS);
  /** Minus and plus, by sign of the residual before: 0, +, −. */
  readonly signs = new Uint32Array(6);
  rest = 0;
  /** Where the counts of the context start, and those of the sign context. */
  row = 0;
  signRow = 0;

  clear(): void {
    this.symbols.fill(0);
    this.signs.fill(0);
    this.rest = 0;
    this.restart();
  }

  restart(): void {
    this.row = 0;
    this.signRow = 0;
  }

  mark(symbol: number): void {
    this.symbols[this.row + symbol]!++;
    this.row = ROW_AFTER[symbol] as number;
  }

  residual(r: number): void {
    if (r === 0) {
      this.symbols[this.row]!++;
      this.row = 0;
      this.signRow = 0;
      return;
    }
    const size = r > 0 ? r : -r;
    const c = size > 0x7fff_ffff ? 31 : 32 - Math.clz32(size);
    this.symbols[this.row + c]!++;
    this.row = ROW_AFTER[c] as number;
    this.rest += c - 1;
    if (r > 0) {
      this.signs[this.signRow + 1]!++;
      this.signRow = 2;
    } else {
      this.signs[this.signRow]!++;
      this.signRow = 4;
    }
  }

  /** The context runs on through a frame that another code told. */
  passed(r: number): void {
    const size = Math.abs(r);
    this.row = ROW_AFTER[size > 0x7fff_ffff ? 31 : 32 - Math.clz32(size)] as number;
    this.signRow = r === 0 ? 0 : r > 0 ? 2 : 4;
  }

  cost(t: GammaTables): number {
    let cost = this.rest * LN2;
    for (let row = 0; row < CONTEXTS * SYMBOLS; row += SYMBOLS) {
      let total = 0;
      for (let symbol = 0; symbol < SYMBOLS; symbol++) {
        const count = this.symbols[row + symbol] as number;
        if (count === 0) continue;
        total += count;
        cost -= (t.tenth[count] as number) - (t.tenth[0] as number);
      }
      if (total > 0) cost += (t.threeFour[total] as number) - (t.threeFour[0] as number);
    }
    for (let sign = 0; sign < 3; sign++) {
      cost += kt(t, this.signs[2 * sign] as number, this.signs[2 * sign + 1] as number);
    }
    return cost;
  }
}

/** Counts to use after each symbol. Contexts by class of a residual: 0, 1, 2, 3–4, 5–6, 7–9, 10–13, 14 and more. */
const ROW_AFTER = Uint16Array.from({ length: SYMBOLS }, (_, c) => {
  if (c === NOT_AVAILABLE) return AFTER_NOT_AVAILABLE * SYMBOLS;
  if (c === FIRST) return 0;
  return SYMBOLS * (c <= 2 ? c : c <= 4 ? 3 : c <= 6 ? 4 : c <= 9 ? 5 : c <= 13 ? 6 : 7);
});

/** Cost of x of one kind and y of another in any order (Krichevsky and Trofimov 1981). */
export function kt(t: GammaTables, x: number, y: number): number {
  const { half, one } = t;
  return (
    (one[x + y] as number) -
    ((half[x] as number) - (half[0] as number)) -
    ((half[y] as number) - (half[0] as number))
  );
}
