/** Stated probabilities held against what came true. */
export interface Claim {
  probability: number;
  right: boolean;
}

const BANDS = [
  [0, 0.3],
  [0.3, 0.5],
  [0.5, 0.7],
  [0.7, 0.85],
  [0.85, 0.95],
  [0.95, 1.01],
] as const;

/** One line a band: mean of what was stated, share that was right; and the Brier score beside that of stating the mean. */
export function claimLines(claims: readonly Claim[]): string[] {
  const lines = BANDS.flatMap(([low, high]) => {
    const some = claims.filter(({ probability: p }) => p >= low && p < high);
    if (some.length === 0) return [];
    const stated = some.reduce((sum, { probability }) => sum + probability, 0) / some.length;
    const right = some.filter((claim) => claim.right).length / some.length;
    return [`  ${stated.toFixed(2)} stated, ${right.toFixed(2)} right (${some.length} fields)`];
  });
  const share = claims.filter(({ right }) => right).length / Math.max(1, claims.length);
  const brier = (stated: (claim: Claim) => number) =>
    claims.reduce((sum, claim) => sum + (stated(claim) - Number(claim.right)) ** 2, 0) /
    Math.max(1, claims.length);
  lines.push(
    `  Brier score ${brier(({ probability }) => probability).toFixed(3)} (${brier(() => share).toFixed(3)} for stating ${share.toFixed(2)} of every field)`,
  );
  return lines;
}
