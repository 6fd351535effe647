/** AUTOSAR system descriptions (ARXML) to dictionaries, and back. Pure; `build/` reads and writes the files. */
export { type AutosarProblem, type AutosarRead, readAutosar } from './read.ts';
export { type AutosarBus, writeAutosar } from './write.ts';
