/**
 * The guard: what bounds the controller. Its program is built from guard.yaml, each of its limits is an obligation that
 * a solver proves over all inputs, and its tables are held against the budget that vehicle dynamics allow the driver.
 */
export * from './attention.ts';
export * from './binding.ts';
export * from './budget/channel.ts';
export * from './budget/margin.ts';
export * from './budget/propose.ts';
export * from './budget/runaway.ts';
export * from './budget/steering.ts';
export * from './channels/plan.ts';
export * from './figures.ts';
export * from './inputs.ts';
export type * from './model.ts';
export { guardObserver, type Observer, specFigures } from './obligations/index.ts';
export * from './problems/index.ts';
export * from './program/guard.ts';
export * from './proof/index.ts';
