/**
 * The build folder: loading it with every problem located, saving so that nothing is ever half-written,
 * one writer at a time, starting a new one, and turning findings into dictionary entries.
 * The lowest room that touches the disk; engines get plain data from here.
 */
export { acceptFinding, rejectFinding } from './accept.ts';
export { type OpenedCapture, openCapture } from './cache/openCapture.ts';
export { type CaptureRead, readCaptureFile } from './captureFile.ts';
export { dossierOf } from './dossierOf.ts';
export {
  type CounterexampleForm,
  loadCounterexamples,
  loadProof,
  type ProofForm,
  saveProof,
} from './evidence.ts';
export { AcceptError, findingState } from './findingTarget.ts';
export { gatewayOf, stepOf } from './gatewayOf.ts';
export { importCapture } from './importCapture.ts';
export { loadBuild } from './load.ts';
export { LockError } from './lock.ts';
export type { Build, Bus, CueSheet, Problem, Unit } from './model.ts';
export { createBuild, NewBuildError } from './newBuild.ts';
export { packageRoot } from './packageRoot.ts';
export { problemSentence } from './problem.ts';
export { QueryError, type QueryResult, query } from './query/query.ts';
export { buildRevision } from './revision.ts';
export { SaveError, saveText, writeFileAtomic } from './save.ts';
export { jsonSchemas } from './schemas.ts';
export { type Selection, SelectionError, selectIn } from './selection.ts';
