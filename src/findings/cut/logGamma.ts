/** Log-gamma at k + ½, k + 1, k + 0.1 and k + 3.4 for whole k, from tables that grow as needed. */

/** ln Γ(k + offset) for k = 0 … size − 1. */
function table(offset: number, size: number): Float64Array {
  const out = new Float64Array(size);
  let value = logGamma(offset);
  for (let k = 0; k < size; k++) {
    out[k] = value;
    value += Math.log(k + offset);
  }
  return out;
}

export interface GammaTables {
  size: number;
  half: Float64Array;
  one: Float64Array;
  tenth: Float64Array;
  threeFour: Float64Array;
  /** ln k, with 0 at k = 0. */
  log: Float64Array;
}

let tables: GammaTables = build(2048);

/** Tables that reach to at least `upTo`. */
export function gammaTables(upTo: number): GammaTables {
  if (upTo + 2 > tables.size) tables = build(Math.max(upTo + 2, 2 * tables.size));
  return tables;
}

function build(size: number): GammaTables {
  return {
    size,
    half: table(0.5, size),
    one: table(1, size),
    tenth: table(0.1, size),
    threeFour: table(3.4, size),
    log: Float64Array.from({ length: size }, (_, k) => (k === 0 ? 0 : Math.log(k))),
  };
}

/** ln Γ(x) for x > 0: Stirling's series after raising the argument above 15 (Abramowitz and Stegun 6.1.40). */
export function logGamma(x: number): number {
  let shift = 0;
  let z = x;
  while (z < 15) {
    shift += Math.log(z);
    z++;
  }
  const z2 = z * z;
  const series = (1 / 12 - (1 / 360 - (1 / 1260 - 1 / (1680 * z2)) / z2) / z2) / z;
  return (z - 0.5) * Math.log(z) - z + 0.5 * Math.log(2 * Math.PI) + series - shift;
}
