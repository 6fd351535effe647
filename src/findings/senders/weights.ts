/**
 * Weights of the cues in the ln odds of a pair. Fitted by bench/sendersFit.ts on simulated recordings alone; no recording of
 * a real bus is in them. The tolerance of the drift cue (pair.ts), the concentration of the sampler (partition.ts) and the
 * bounds for answers (follows.ts) were settled with two recordings of boats in view.
 */
export const WEIGHTS = {
  driftAgainst: 0.66,
  driftFor: 1.8,
  tick: 1.82,
  silencesFor: 2.46,
} as const;
