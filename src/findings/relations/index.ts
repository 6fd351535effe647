/**
 * Signals that belong together: `relate` takes a capture and its findings and gives a graph of copies, inverse copies, ratios,
 * rates, sums and products, each with its delay and probability, and the names of quantities that these suggest.
 */
export { keyOf, type SignalPlace } from './grid.ts';
export type { NameHint, Relation, RelationKind, Relations } from './model.ts';
export { type RelateOptions, relate, relateSteps } from './relate.ts';
