/**
 * Share of right fields at each posterior, of 2139 fields of made-up messages. Written by bench/train/calibrate.ts with seed
 * 9 and 60 buses; no recording is in it.
 */
export const MEASURED: readonly (readonly [posterior: number, right: number])[] = [
  [0, 0],
  [0.4211, 0.464],
  [0.6024, 0.601],
  [0.7133, 0.678],
  [0.8135, 0.837],
  [0.883, 0.928],
  [0.9264, 0.941],
  [0.9693, 0.959],
  [0.9895, 0.993],
  [0.9951, 0.993],
  [0.9978, 1.0],
  [0.9993, 1.0],
  [0.9999, 1.0],
  [1, 1.0],
];
