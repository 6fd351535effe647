/** Seeded random numbers for the benches: xorshift32 (Marsaglia, Journal of Statistical Software 8(14), 2003). */

/** A source of whole numbers 0 … 2³² − 1, the same for the same seed on every machine; the seed is not 0. */
export function xorshift32(seed: number): () => number {
  let state = seed;
  return () => {
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    return state >>> 0;
  };
}
