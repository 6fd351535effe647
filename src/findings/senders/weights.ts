/**
 * Weights of the cues in the ln odds of a pair. Fitted by bench/sendersFit.ts on simulated recordings alone; no recording of
 * a real bus is in them.
 */
export const WEIGHTS = {
  driftAgainst: 0.66,
  driftFor: 1.8,
  tick: 1.82,
  silencesFor: 2.46,
} as const;
