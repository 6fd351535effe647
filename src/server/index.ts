/**
 * The workbench's server: answers the pages about one build, over loopback only and under its own name only.
 * Reads what is in the build's folder, starts long work as jobs that can be stopped, and writes only dictionaries and evidence.
 * `api.ts` is the contract with the pages; each group of addresses is one file under `routes/`.
 */
export { type RunningServer, type ServerOptions, StartError, startServer } from './start.ts';
