/** Features of pairs of neighbouring bits inside a candidate: carries, signs, and bits that have nothing to do with each other. */
import { type Lane, MOVES } from './lane.ts';
import { FEATURES, type FeatureName } from './names.ts';
import { type BitMotion, pairMotion } from './pairs.ts';

export const PAIR_NAMES = FEATURES.filter((name) => name.startsWith('pair'));

export interface PairSums {
  /** Running sums of the pair features along a lane, by `PAIR_NAMES`: entry k holds all pairs up to position k. */
  sums: Float64Array[];
  /** Features of the pair of a position that moves and the one below it that moves. */
  below: (Pair | undefined)[];
}

export function pairSums(lane: Lane, motion: BitMotion): PairSums {
  const pairs: (Pair | undefined)[] = [];
  const count = lane.bits.length;
  const sums = PAIR_NAMES.map(() => new Float64Array(count));
  let before = -1;
  for (let k = 0; k < count; k++) {
    if (k > 0) for (const row of sums) row[k] = row[k - 1] as number;
    if (lane.state[k] !== MOVES) continue;
    if (before >= 0) {
      const values = pairFeatures(lane, motion, before, k);
      pairs[k] = values;
      for (let p = 0; p < PAIR_NAMES.length; p++) {
        const row = sums[p] as Float64Array;
        row[k] = (row[k] as number) + (values[PAIR_NAMES[p] as FeatureName] as number);
      }
    }
    before = k;
  }
  return { sums, below: pairs };
}

export type Pair = Partial<Record<FeatureName, number>>;

function pairFeatures(lane: Lane, motion: BitMotion, lowAt: number, highAt: number): Pair {
  const low = lane.bits[lowAt] as number;
  const high = lane.bits[highAt] as number;
  const { same, opposite } = pairMotion(motion, low, high);
  const lowFlips = motion.flips[low] as number;
  const highFlips = motion.flips[high] as number;
  const r = Math.log2((highFlips + 0.5) / (lowFlips + 0.5));
  const weight = Math.min(1, highFlips / 8);
  const shareSame = (same + 0.5) / (highFlips + 1.5);
  const shareOpposite = (opposite + 0.5) / (highFlips + 1.5);
  const shareAlone = Math.max(0, 1 - shareSame - shareOpposite);
  const together = clip((same + opposite + 0.5) / (highFlips + 1), 0.01, 0.99);
  const chance = clip((lowFlips + 1) / (motion.steps + 2), 0.001, 0.999);
  const cross = lowAt >> 3 === highAt >> 3 ? 0 : 1;
  return {
    pairs: 1,
    pairFaster: clip(r, 0, 4),
    pairSlower: clip(-r, 0, 6),
    pairEqual: Number(Math.abs(r) < 0.07),
    pairOpposite: weight * shareOpposite,
    pairSame: weight * shareSame,
    pairAlone: weight * shareAlone,
    pairLift: weight * clip(logit(together) - logit(chance), -5, 5),
    pairBalance: weight * (shareOpposite - shareSame),
    pairSignBits: shareSame > 0.9 && Math.abs(r) < 0.1 ? weight : 0,
    pairCarry: Number(opposite >= 0.95 * highFlips),
    pairRareHigh: Number(highFlips <= 2),
    pairRareLow: Number(lowFlips <= 2),
    pairGap: Number(highAt > lowAt + 1),
    pairCross: cross,
    pairCrossOpposite: cross * weight * shareOpposite,
    pairCrossAlone: cross * weight * shareAlone,
    pairMuchSlower: clip(-r - 2, 0, 4),
  };
}

export function clip(x: number, low: number, high: number): number {
  return Math.min(high, Math.max(low, x));
}

function logit(p: number): number {
  return Math.log(p / (1 - p));
}
