/**
 * The firmware: a gateway as a project of plain C99 for a microcontroller, made to be read, with no heap and no floating
 * point. What it computes is what was proved and run; without every proof it holds each actuator released.
 * The fixed files are in `runtime/`; `firmwareProject` adds what follows from the build.
 */
export type { ProjectForm } from './head.ts';
export * from './project.ts';
export * from './provenance.ts';
export { traceNames, traceValues } from './trace.ts';
