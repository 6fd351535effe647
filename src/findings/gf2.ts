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
  let da = degree(a);
  let db = degree(b);
  while (db >= 0) {
    // The longer one loses its top term until it is the shorter one.
    while (da >= db) {
      addShifted(a, b, da - db);
      da = degreeFrom(a, da >> 5);
    }
    [a, b] = [b, a];
    [da, db] = [db, da];
  }
  return a;
}

function degreeFrom(p: Int32Array, word: number): number {
  for (let w = word; w >= 0; w--) {
    const bits = p[w] as number;
    if (bits !== 0) return 32 * w + 31 - Math.clz32(bits);
  }
  return -1;
}

/**
 * All polynomials of the given degree (1–32) that divide `p`, which is not zero; as numbers without their top term, rising.
 * Null where there are too many to try: both the degree and what it leaves of `p` exceed `MOST_TRIED` bits.
 */
export function divisorsOfDegree(p: Int32Array, wanted: number): number[] | null {
  const spare = degree(p) - wanted;
  if (spare < 0) return [];
  // A divisor of degree d comes with a cofactor of what is left: the shorter of the two is tried.
  const tried = Math.min(wanted, spare);
  if (tried > MOST_TRIED) return null;
  const found: number[] = [];
  const divisor = new Int32Array(Math.max(p.length, 2));
  for (let low = 0; low < 2 ** tried; low++) {
    divisor.fill(0);
    divisor[0] = low | (1 << tried);
    const { quotient, exact } = divided(p, divisor);
    if (!exact) continue;
    if (tried === wanted) found.push(low);
    else found.push(lowTerms(quotient, wanted));
  }
  return found.sort((a, b) => a - b);
}

const MOST_TRIED = 12;

/** Whether the polynomial with these terms below x^degreeOf divides `p`. */
export function divides(terms: number, degreeOf: number, p: Int32Array): boolean {
  const divisor = new Int32Array(Math.max(p.length, 2));
  divisor[0] = terms;
  divisor[degreeOf >> 5] = (divisor[degreeOf >> 5] as number) | (1 << (degreeOf & 31));
  return remainder(widened(p), divisor) < 0;
}

function divided(p: Int32Array, divisor: Int32Array): { quotient: Int32Array; exact: boolean } {
  const rest = widened(p);
  const quotient = new Int32Array(rest.length);
  const d = degree(divisor);
  for (let top = degree(rest); top >= d; top = degree(rest)) {
    const shift = top - d;
    quotient[shift >> 5] = (quotient[shift >> 5] as number) | (1 << (shift & 31));
    addShifted(rest, divisor, shift);
  }
  return { quotient, exact: degree(rest) < 0 };
}

/** At least two words, so that a divisor of degree 32 has room. */
function widened(p: Int32Array): Int32Array {
  const out = new Int32Array(Math.max(p.length, 2));
  out.set(p);
  return out;
}

/** Coefficients of the powers below `terms`, as an unsigned number. */
function lowTerms(p: Int32Array, terms: number): number {
  const low = (p[0] as number) >>> 0;
  return terms >= 32 ? low : low % 2 ** terms;
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
