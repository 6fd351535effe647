/**
 * Linear algebra over GF(2): row spaces by elimination, and polynomials with their greatest common divisor.
 * Rows and polynomials are arrays of 32-bit words, lowest index (or power) in the lowest bit of word 0.
 */

/** A row space over GF(2) in echelon form; every row has a pivot, its lowest set column, that no later row has. */
export class RowSpace {
  readonly words: number;
  rank = 0;
  /** Row by pivot column. */
  readonly #rows: (Int32Array | undefined)[];

  constructor(readonly columns: number) {
    this.words = (columns + 31) >> 5;
    this.#rows = new Array(columns);
  }

  /** The rows of the echelon form, pivots rising. */
  rows(): Int32Array[] {
    return this.#rows.filter((row) => row !== undefined);
  }

  /**
   * Takes a row into the space and leaves the argument reduced.
   * @returns pivot column of the new row, or −1 when the row was a combination of those before.
   */
  insert(row: Int32Array): number {
    const pivot = this.reduce(row);
    if (pivot < 0) return pivot;
    this.#rows[pivot] = row.slice();
    this.rank++;
    return pivot;
  }

  /** Reduces a row in place by the rows of the space; returns its lowest set column, −1 when nothing is left. */
  reduce(row: Int32Array): number {
    for (let w = 0; w < this.words; w++) {
      for (let left = row[w] as number; left !== 0; left = row[w] as number) {
        const column = 32 * w + 31 - Math.clz32(left & -left);
        const pivotRow = this.#rows[column];
        if (!pivotRow) return column;
        for (let k = w; k < this.words; k++) row[k] = (row[k] as number) ^ (pivotRow[k] as number);
      }
    }
    return -1;
  }
}

/** Degree of a polynomial; −1 for zero. */
export function degree(p: Int32Array): number {
  for (let w = p.length - 1; w >= 0; w--) {
    const word = p[w] as number;
    if (word !== 0) return 32 * w + 31 - Math.clz32(word);
  }
  return -1;
}

/** Remainder of `p` by `divisor` (not zero), in place. Returns its degree. */
export function remainder(p: Int32Array, divisor: Int32Array): number {
  const d = degree(divisor);
  let top = degree(p);
  while (top >= d) {
    addShifted(p, divisor, top - d);
    top = degree(p);
  }
  return top;
}

/** Greatest common divisor of two polynomials, as a new array; zero stands for "divisible by everything". */
export function commonDivisor(p: Int32Array, q: Int32Array): Int32Array {
  let a = p.slice();
  let b = q.slice();
  while (degree(b) >= 0) {
    remainder(a, b);
    [a, b] = [b, a];
  }
  return a;
}

/** All polynomials of the given degree (1–16) that divide `p`, which is not zero; as numbers without their top term. */
export function divisorsOfDegree(p: Int32Array, wanted: number): number[] {
  if (degree(p) < wanted) return [];
  const found: number[] = [];
  const divisor = new Int32Array(p.length);
  for (let low = 0; low < 2 ** wanted; low++) {
    divisor[0] = low | (1 << wanted);
    if (remainder(p.slice(), divisor) < 0) found.push(low);
  }
  return found;
}

/** p += q · x^shift. */
function addShifted(p: Int32Array, q: Int32Array, shift: number): void {
  const words = shift >> 5;
  const bits = shift & 31;
  for (let w = p.length - 1; w >= words; w--) {
    const from = w - words;
    let term = (q[from] as number) << bits;
    if (bits > 0 && from > 0) term |= (q[from - 1] as number) >>> (32 - bits);
    p[w] = (p[w] as number) ^ term;
  }
}
