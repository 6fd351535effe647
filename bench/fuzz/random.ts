/** Random numbers that a seed and a run's number give again. */

export interface Random {
  /** In [0, 1). */
  unit(): number;
  /** Whole number in 0 … below − 1; 0 where `below` is less than 1. */
  below(below: number): number;
  /** One of a list that is not empty. */
  of<T>(list: readonly T[]): T;
}

/** Of run number `run` of `seed`, whatever other runs there were. */
export function randomOf(seed: number, run: number): Random {
  // The run is spread over the word by the golden ratio, so that neighbours begin far apart; then mulberry32 (public
  // domain, from memory).
  let state = (Math.imul(run + 1, 0x9e3779b1) ^ Math.imul(seed | 0, 0x85ebca6b)) >>> 0;
  const unit = () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
  const below = (n: number) => (n < 1 ? 0 : Math.floor(unit() * n));
  return { unit, below, of: (list) => list[below(list.length)] as (typeof list)[number] };
}
