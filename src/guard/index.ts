/**
 * The guard: what bounds the controller. Its program is built from guard.yaml, each of its limits is an obligation that
 * a solver proves over all inputs, and its tables are held against the budget that vehicle dynamics allow the driver.
 */
export * from './binding.ts';
export * from './budget.ts';
export * from './figures.ts';
export * from './margin.ts';
export type * from './model.ts';
export { type Observer, specFigures, steeringObserver } from './obligations/index.ts';
export * from './problems.ts';
export * from './proof/index.ts';
export * from './runaway.ts';
export * from './steering.ts';
export * from './units.ts';
