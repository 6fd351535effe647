/**
 * Which messages belong together, as a distribution: partitions are sampled in proportion to how well they fit the
 * evidence of all pairs. Deterministic: the dice start from a fixed seed.
 */
import { clip } from './robust.ts';

export interface PartitionSample {
  /** Share of the sampled partitions in which i and j are together, Float64[n × n]. */
  together: Float64Array;
  /** Number of groups in each sampled partition. */
  counts: number[];
}

export interface PartitionOptions {
  sweeps: number;
  burnt: number;
  /** Concentration of the Chinese-restaurant prior: how readily a message starts a group of its own. */
  alpha: number;
  /** m messages give some m − 1 independent facts, not m(m − 1)/2: evidence within a group counts (2/m)^temper. */
  temper: number;
}

export const PARTITION: PartitionOptions = { sweeps: 80, burnt: 25, alpha: 4, temper: 0.8 };

const MOST_EVIDENCE = 6;

/**
 * Gibbs sampling over the messages with moves that split and merge groups, from a greedy start. `evidence`: ln odds of each pair without
 * the prior, Float64[n × n], symmetric. Yields the share done after each sweep.
 */
export function* samplePartitions(
  evidence: Float64Array,
  n: number,
  options: PartitionOptions = PARTITION,
): Generator<number, PartitionSample> {
  const e = evidence.map((x) => clip(x, -MOST_EVIDENCE, MOST_EVIDENCE));
  const roll = dice(0x5eed);
  const state = new State(e, n, options);
  state.greedy();
  const together = new Float64Array(n * n);
  const counts: number[] = [];
  for (let sweep = 0; sweep < options.sweeps; sweep++) {
    for (let i = 0; i < n; i++) state.move(i, roll);
    for (let k = 0; k < n; k++) state.splitOrMerge(roll);
    if (sweep >= options.burnt) {
      counts.push(state.groups());
      for (let i = 0; i < n; i++)
        for (let j = 0; j < n; j++)
          if (state.label[i] === state.label[j]) together[i * n + j] = (together[i * n + j] as number) + 1;
    }
    yield (sweep + 1) / options.sweeps;
  }
  return { together: together.map((x) => x / counts.length), counts };
}

/** Groups by average linkage on `together` − 1/2: joined while the mean over all pairs between two groups exceeds one half. */
export function pointPartition(together: Float64Array, n: number): number[][] {
  let groups = Array.from({ length: n }, (_, i) => [i]);
  for (;;) {
    let best = 0;
    let pair: [number, number] | null = null;
    for (let a = 0; a < groups.length; a++) {
      for (let b = a + 1; b < groups.length; b++) {
        let sum = 0;
        for (const i of groups[a] as number[])
          for (const j of groups[b] as number[]) sum += (together[i * n + j] as number) - 0.5;
        const mean = sum / ((groups[a] as number[]).length * (groups[b] as number[]).length);
        if (mean > best) {
          best = mean;
          pair = [a, b];
        }
      }
    }
    if (pair === null) return groups.map((g) => g.sort((x, y) => x - y));
    const [a, b] = pair;
    const joined = [...(groups[a] as number[]), ...(groups[b] as number[])];
    groups = groups.filter((_, k) => k !== a && k !== b);
    groups.push(joined);
  }
}

class State {
  /** Group of each message. */
  label: Int32Array;
  #size: Int32Array;
  /** Sum of evidence inside each group. */
  #inside: Float64Array;
  #e: Float64Array;
  #n: number;
  #options: PartitionOptions;

  constructor(e: Float64Array, n: number, options: PartitionOptions) {
    this.label = Int32Array.from({ length: n }, (_, i) => i);
    this.#size = new Int32Array(n).fill(1);
    this.#inside = new Float64Array(n);
    this.#e = e;
    this.#n = n;
    this.#options = options;
  }

  groups(): number {
    return this.#size.reduce((sum, s) => sum + (s > 0 ? 1 : 0), 0);
  }

  /** ln weight of a group of `size` with evidence `inside`: (2/m)^temper · evidence + prior ln(α (m − 1)!). */
  #weight(size: number, inside: number): number {
    if (size === 0) return 0;
    return (
      (2 / size) ** this.#options.temper * inside + Math.log(this.#options.alpha) + logFactorial(size - 1)
    );
  }

  #between(a: number, b: number): number {
    let sum = 0;
    for (let i = 0; i < this.#n; i++) {
      if (this.label[i] !== a) continue;
      for (let j = 0; j < this.#n; j++) if (this.label[j] === b) sum += this.#e[i * this.#n + j] as number;
    }
    return sum;
  }

  greedy(): void {
    for (;;) {
      let best = 0;
      let pair: [number, number, number] | null = null;
      for (let a = 0; a < this.#n; a++) {
        if ((this.#size[a] as number) === 0) continue;
        const links = new Float64Array(this.#n);
        for (let i = 0; i < this.#n; i++) {
          if (this.label[i] !== a) continue;
          for (let j = 0; j < this.#n; j++) {
            const b = this.label[j] as number;
            links[b] = (links[b] as number) + (this.#e[i * this.#n + j] as number);
          }
        }
        for (let b = a + 1; b < this.#n; b++) {
          if ((this.#size[b] as number) === 0) continue;
          const gain = this.#mergeGain(a, b, links[b] as number);
          if (gain > best) {
            best = gain;
            pair = [a, b, links[b] as number];
          }
        }
      }
      if (pair === null) return;
      this.#merge(...pair);
    }
  }

  #mergeGain(a: number, b: number, between: number): number {
    const sizeA = this.#size[a] as number;
    const sizeB = this.#size[b] as number;
    const inA = this.#inside[a] as number;
    const inB = this.#inside[b] as number;
    return (
      this.#weight(sizeA + sizeB, inA + inB + between) - this.#weight(sizeA, inA) - this.#weight(sizeB, inB)
    );
  }

  #merge(a: number, b: number, between: number): void {
    this.#inside[a] = (this.#inside[a] as number) + (this.#inside[b] as number) + between;
    this.#size[a] = (this.#size[a] as number) + (this.#size[b] as number);
    this.#inside[b] = 0;
    this.#size[b] = 0;
    for (let i = 0; i < this.#n; i++) if (this.label[i] === b) this.label[i] = a;
  }

  /** Takes message i out and puts it back by lot, by the weights of all groups and of one of its own. */
  move(i: number, roll: () => number): void {
    const n = this.#n;
    const links = new Float64Array(n);
    for (let j = 0; j < n; j++) {
      if (j === i) continue;
      const g = this.label[j] as number;
      links[g] = (links[g] as number) + (this.#e[i * n + j] as number);
    }
    const old = this.label[i] as number;
    this.#size[old] = (this.#size[old] as number) - 1;
    this.#inside[old] = this.#size[old] === 0 ? 0 : (this.#inside[old] as number) - (links[old] as number);
    const gains = new Float64Array(n).fill(Number.NEGATIVE_INFINITY);
    let empty = -1;
    let top = Number.NEGATIVE_INFINITY;
    for (let g = 0; g < n; g++) {
      const size = this.#size[g] as number;
      if (size === 0) {
        if (empty >= 0) continue;
        empty = g;
      }
      const inside = this.#inside[g] as number;
      gains[g] = this.#weight(size + 1, inside + (links[g] as number)) - this.#weight(size, inside);
      top = Math.max(top, gains[g] as number);
    }
    let total = 0;
    for (let g = 0; g < n; g++) total += gains[g] = Math.exp((gains[g] as number) - top);
    let at = roll() * total;
    let chosen = empty;
    for (let g = 0; g < n; g++) {
      at -= gains[g] as number;
      if (at < 0) {
        chosen = g;
        break;
      }
    }
    this.label[i] = chosen;
    this.#size[chosen] = (this.#size[chosen] as number) + 1;
    this.#inside[chosen] = (this.#inside[chosen] as number) + (links[chosen] as number);
  }

  /**
   * Offers to join the groups of two messages drawn by lot or, where they are together, to part them with the others dealt
   * out by lot; taken by the rule of Metropolis and Hastings, so that both ways are in balance (Jain and Neal 2004,
   * simple random split-merge).
   */
  splitOrMerge(roll: () => number): void {
    const i = Math.floor(roll() * this.#n);
    const j = Math.floor(roll() * this.#n);
    const lot = Math.log(roll());
    const a = this.label[i] as number;
    const b = this.label[j] as number;
    if (i === j) return;
    if (a !== b) {
      const between = this.#between(a, b);
      const others = (this.#size[a] as number) + (this.#size[b] as number) - 2;
      if (lot < this.#mergeGain(a, b, between) - others * Math.LN2) this.#merge(a, b, between);
      return;
    }
    const empty = this.#size.indexOf(0);
    const before = { size: this.#size[a] as number, inside: this.#inside[a] as number };
    const gone: number[] = [];
    for (let k = 0; k < this.#n; k++) {
      if (this.label[k] === a && k !== i && (k === j || roll() < 0.5)) gone.push(k);
    }
    for (const k of gone) this.label[k] = empty;
    const between = this.#between(a, empty);
    const inside = this.#between(empty, empty) / 2;
    this.#size[empty] = gone.length;
    this.#size[a] = before.size - gone.length;
    this.#inside[empty] = inside;
    this.#inside[a] = before.inside - inside - between;
    if (lot < (before.size - 2) * Math.LN2 - this.#mergeGain(a, empty, between)) return;
    for (const k of gone) this.label[k] = a;
    this.#size[empty] = 0;
    this.#inside[empty] = 0;
    this.#size[a] = before.size;
    this.#inside[a] = before.inside;
  }
}

function logFactorial(n: number): number {
  let sum = 0;
  for (let k = 2; k <= n; k++) sum += Math.log(k);
  return sum;
}

/** Numbers 0 ≤ x < 1 from a 32-bit seed (a Weyl sequence, mixed by multiplication). */
function dice(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x9e37_79b9) >>> 0;
    let x = Math.imul(state ^ (state >>> 16), 0x85eb_ca6b);
    x = Math.imul(x ^ (x >>> 13), 0xc2b2_ae35);
    return ((x ^ (x >>> 16)) >>> 0) / 2 ** 32;
  };
}
