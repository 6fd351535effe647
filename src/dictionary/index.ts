/**
 * The accepted messages and signals of a bus: their shape in files, decoding of captures with them, counters and check
 * fields verified over a capture, and what contradicts itself in a dictionary.
 * Pure functions; findings propose what goes in here, bridge and guard refer to it by name.
 */
export * from './bits.ts';
export * from './case.ts';
export * from './counter.ts';
export * from './decode.ts';
export type * from './model.ts';
export * from './problems.ts';
export * from './schema.ts';
export * from './verify.ts';
