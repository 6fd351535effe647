/** Seeded random numbers, the same on every machine. */
export interface Random {
  /** 0 … n − 1. */
  below(n: number): number;
  between(lo: number, hi: number): number;
  pick<T>(list: readonly T[]): T;
  chance(p: number): boolean;
}

export function seededRandom(seed: number): Random {
  let a = seed >>> 0;
  // Mulberry32: passes the usual tests well enough to draw test inputs; common practice, no standard behind it.
  const next = () => {
    a = (a + 0x6d2b79f5) >>> 0;
    let t = Math.imul(a ^ (a >>> 15), a | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32;
  };
  const below = (n: number) => Math.floor(next() * n);
  return {
    below,
    between: (lo, hi) => lo + below(hi - lo + 1),
    pick: (list) => list[below(list.length)]!,
    chance: (p) => next() < p,
  };
}
