/**
 * From the posterior of a field to the probability that is stated. Posteriors run too high on real recordings, because
 * the model was learned on synthetic traffic; the map below is the share of right fields that was measured at each
 * posterior over 240 fields of recordings with public layouts (boats, trucks, a tractor).
 */

/** No field is said to be surer than this before anything on its bus was confirmed. */
export const SUREST = 0.92;

const MEASURED: readonly (readonly [posterior: number, right: number])[] = [
  [0, 0],
  [0.36, 0.12],
  [0.6, 0.45],
  [0.82, 0.74],
  [0.94, 0.8],
  [0.99, 0.9],
  [1, SUREST],
];

export function statedProbability(posterior: number): number {
  const p = Math.min(1, Math.max(0, posterior));
  const k = MEASURED.findIndex(([at]) => at >= p);
  const [toAt, to] = MEASURED[Math.max(1, k)] as readonly [number, number];
  const [fromAt, from] = MEASURED[Math.max(1, k) - 1] as readonly [number, number];
  return from + ((p - fromAt) / (toAt - fromAt)) * (to - from);
}
