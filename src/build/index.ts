/**
 * The build folder: loading it with every problem located, saving so that nothing is ever half-written,
 * one writer at a time, starting a new one, and turning findings into dictionary entries.
 * The only room below the edge that touches the disk; engines get plain data from here.
 */
export { loadBuild } from './load.ts';
export type { Build, Bus, CueSheet, Problem, Unit } from './model.ts';
export { packageRoot } from './packageRoot.ts';
export { problemSentence } from './problem.ts';
