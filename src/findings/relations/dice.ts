/** Numbers 0 ≤ x < 1 from a 32-bit seed (a Weyl sequence, mixed by multiplication): the same draws in every run. */
export function dice(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x9e37_79b9) >>> 0;
    let x = Math.imul(state ^ (state >>> 16), 0x85eb_ca6b);
    x = Math.imul(x ^ (x >>> 13), 0xc2b2_ae35);
    return ((x ^ (x >>> 16)) >>> 0) / 2 ** 32;
  };
}
