/**
 * From the posterior of a field to the probability that is stated: the share of right fields that was measured at each
 * posterior on made-up messages that the weights were not learned from (calibration.ts).
 */
import { MEASURED } from './calibration.ts';

/** No field is said to be surer than this before anything on its bus was confirmed. */
export const SUREST = 0.92;

export function statedProbability(posterior: number): number {
  const p = Math.min(1, Math.max(0, posterior));
  const k = Math.max(
    1,
    MEASURED.findIndex(([at]) => at >= p),
  );
  const [toAt, to] = MEASURED[k] as readonly [number, number];
  const [fromAt, from] = MEASURED[k - 1] as readonly [number, number];
  return Math.min(SUREST, from + ((p - fromAt) / Math.max(1e-9, toAt - fromAt)) * (to - from));
}
