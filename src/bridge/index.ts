/**
 * The bridge: the gateway's message plan. It reads what the buses bring and believes only what counter and check field
 * confirm, turns signals of one bus into those of another, and writes messages that their receivers believe.
 * Plans become one gateway of logic programs (`assembleGateway`), which runs here (`GatewayRun`, `through`).
 */
export * from './assemble.ts';
export type * from './gateway.ts';
export type * from './model.ts';
export type { NameEntry } from './names.ts';
export * from './plan.ts';
export * from './problem.ts';
export * from './problems.ts';
export * from './read.ts';
export * from './released.ts';
export * from './route.ts';
export * from './runGateway.ts';
export * from './through.ts';
export * from './units.ts';
export * from './wiring.ts';
export * from './write.ts';
export * from './writeObserver.ts';
export * from './writes.ts';
