/** Pairs as they are told: probability, drift and the word for it. */
import type { PairsOfRecording } from './evidence.ts';
import type { PairWord, SenderPair } from './model.ts';
import { clip } from './robust.ts';

/** Pairs whose drift is known no better than this, in ppm, cannot be told apart by it. */
export const CLEAR_PPM = 5;
const SURE = 0.9;
const NO_SIGN = 0.1;

export function pairsOf(
  placed: readonly number[],
  together: Float64Array,
  parts: readonly PairsOfRecording[],
  n: number,
  most: number,
): SenderPair[] {
  const pairs: SenderPair[] = [];
  const m = placed.length;
  for (let x = 0; x < m; x++) {
    for (let y = x + 1; y < m; y++) {
      const a = Math.min(placed[x] as number, placed[y] as number);
      const b = Math.max(placed[x] as number, placed[y] as number);
      const all = parts.flatMap((part) => part.pairs.get(a * n + b) ?? []);
      const drift = all.find((e) => e.drift !== null)?.drift ?? null;
      const sharedSilences = all.reduce((sum, e) => sum + e.sharedSilences, 0);
      const probability = clip(together[x * m + y] as number, LEAST, Math.min(most, 1 - LEAST));
      pairs.push({
        a,
        b,
        probability,
        word: wordOf(probability, drift?.errorPpm ?? null, sharedSilences),
        driftPpm: drift?.ppm ?? null,
        errorPpm: drift?.errorPpm ?? null,
        sharedSilences,
      });
    }
  }
  return pairs.sort((p, q) => p.a - q.a || p.b - q.b);
}

/** No sampled share is stated as certain. */
export const LEAST = 0.005;

function wordOf(probability: number, errorPpm: number | null, sharedSilences: number): PairWord {
  const clear = errorPpm !== null && errorPpm <= CLEAR_PPM;
  if (probability < NO_SIGN) return 'noSign';
  return probability > SURE && (clear || sharedSilences > 0) ? 'oneClock' : 'notEnough';
}
