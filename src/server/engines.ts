/** The computations that the server asks for; tests put slow or failing ones in their place. */
import type { CounterexampleForm, ProofForm } from '../build/evidence.ts';
import { findInThreads } from '../build/findings/threads.ts';
import { proveBuild, tableCheckOf } from '../build/guardOf.ts';
import type { Build } from '../build/model.ts';
import type { Capture } from '../capture/store.ts';
import { type CuedRecording, type CueFinding, rankCues } from '../findings/cues/index.ts';
import type { Findings } from '../findings/model.ts';
import { type Relations, relate } from '../findings/relations/index.ts';
import { toBudgetForm } from '../guard/budget/margin.ts';
import type { BudgetForm } from './api.ts';

export interface Running {
  signal: AbortSignal;
  /** 0 … 1, and what it is at. */
  onProgress: (fraction: number, note?: string) => void;
}

export interface Engines {
  findings(capture: Capture, running: Running): Promise<Findings>;
  relations(capture: Capture, findings: Findings, running: Running): Promise<Relations>;
  cues(recordings: readonly CuedRecording[], findings: Findings, running: Running): Promise<CueFinding[]>;
  /** Proves the guard of a build that has one. */
  proof(build: Build, running: Running): Promise<{ form: ProofForm; counterexamples: CounterexampleForm[] }>;
  /** Budget of a build that has a guard. Throws an error with a sentence where the figures do not allow it. */
  budget(build: Build): BudgetForm;
}

export const ENGINES: Engines = {
  findings: (capture, { signal, onProgress }) =>
    findInThreads(capture, { signal, onProgress: (share) => onProgress(share) }),
  relations: (capture, findings, running) => relate(capture, findings, running),
  cues: (recordings, findings, running) => rankCues(recordings, findings, running),
  proof: (build, running) => proveBuild(build, running),
  budget: (build) => toBudgetForm(tableCheckOf(build)),
};
