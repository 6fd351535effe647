/**
 * Share of right fields at each posterior, of 2147 fields of made-up messages. Written by bench/train/calibrate.ts with seed
 * 9 and 60 buses; no recording is in it.
 */
export const MEASURED: readonly (readonly [posterior: number, right: number])[] = [
  [0, 0],
  [0.4185, 0.425],
  [0.5944, 0.61],
  [0.7078, 0.66],
  [0.8086, 0.83],
  [0.881, 0.929],
  [0.9252, 0.941],
  [0.9689, 0.959],
  [0.9922, 0.993],
  [0.9978, 1.0],
  [0.9993, 1.0],
  [0.9999, 1.0],
  [1, 1.0],
];
