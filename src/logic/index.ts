/**
 * Logic programs: the small integer dataflow form of routes and guard, and a builder that keeps every value in 32 bits.
 * Its readers: run (fast), interpret (every value, for replay), C (for the microcontroller), SMT bit-vectors (for the
 * proof). What is proved is what is run and what is flashed.
 */
export * from './blocks.ts';
export * from './builder.ts';
export * from './c-support.ts';
export * from './check.ts';
export * from './emit-c.ts';
export * from './emit-smt.ts';
export * from './error.ts';
export * from './fields.ts';
export type * from './form.ts';
export * from './graph.ts';
export * from './hash.ts';
export * from './interpret.ts';
export * from './interval.ts';
export * from './ratio.ts';
export * from './run.ts';
export * from './solver.ts';
export * from './table.ts';
