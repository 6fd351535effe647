/** Two recordings of a bus held against each other: `compareCaptures` tells what changed and what is only not known. */
export { compareCaptures, compareSteps, type Recording } from './compare.ts';
export type { Comparison, Difference, DifferenceKind } from './model.ts';
