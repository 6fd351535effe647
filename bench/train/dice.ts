/** Seeded random numbers for made-up traffic (mulberry32, public domain). */
export class Dice {
  private word: number;

  constructor(seed: number) {
    this.word = (Math.imul(seed, 0x9e37_79b9) ^ 0x5bd1_e995) >>> 0;
    for (let k = 0; k < 3; k++) this.next();
  }

  /** 0 ≤ x < 1. */
  next(): number {
    this.word = (this.word + 0x6d2b_79f5) >>> 0;
    let x = Math.imul(this.word ^ (this.word >>> 15), this.word | 1);
    x ^= x + Math.imul(x ^ (x >>> 7), x | 61);
    return ((x ^ (x >>> 14)) >>> 0) / 2 ** 32;
  }

  between(low: number, high: number): number {
    return low + (high - low) * this.next();
  }

  /** Whole numbers low … high, both included. */
  whole(low: number, high: number): number {
    return low + Math.floor(this.next() * (high - low + 1));
  }

  /** Between low and high with all ratios alike. */
  ratio(low: number, high: number): number {
    return low * (high / low) ** this.next();
  }

  chance(p: number): boolean {
    return this.next() < p;
  }

  pick<T>(list: readonly T[]): T {
    return list[Math.floor(this.next() * list.length)] as T;
  }

  /** One of the keys, each as often as its weight says. */
  weighted<K extends string>(weights: Record<K, number>): K {
    const entries = Object.entries(weights) as [K, number][];
    let at = this.next() * entries.reduce((sum, [, w]) => sum + w, 0);
    for (const [key, weight] of entries) {
      at -= weight;
      if (at < 0) return key;
    }
    return (entries[0] as [K, number])[0];
  }

  /** Mean 0, deviation 1 (Box and Muller 1958). */
  normal(): number {
    return Math.sqrt(-2 * Math.log(1 - this.next())) * Math.cos(2 * Math.PI * this.next());
  }
}
