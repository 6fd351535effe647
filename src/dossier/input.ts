/** Everything that the dossier prints, gathered by the caller; nothing in here is computed by the dossier itself. */
import type { BridgePlan } from '../bridge/model.ts';
import type { Host } from '../car/model.ts';
import type { Dictionary } from '../dictionary/model.ts';
import type { GuardPlan } from '../guard/model.ts';

export interface DossierInput {
  title: string;
  note: string | null;
  stage: 'bench' | 'stand' | 'closed course' | 'road';
  /** Hash over the build's text files, hex. */
  revision: string;
  /** When the dossier was made, ISO 8601 UTC. */
  made: string;
  /** Version of the program that made it. */
  version: string;
  host: Host;
  buses: DossierBus[];
  units: DossierUnit[];
  dictionaries: Dictionary[];
  bridge: BridgePlan | null;
  guard: GuardPlan | null;
  /** null where it was not computed; `budgetError` then says why. */
  budget: DossierBudget | null;
  budgetError: string | null;
  /** null where nothing was proved yet. */
  proof: DossierProof | null;
  counterexamples: DossierCounterexample[];
  /** What is wrong in the build's files, one sentence each. */
  problems: string[];
  /** Files that the dossier rests on. */
  files: DossierFile[];
}

export interface DossierBus {
  name: string;
  number: number;
  bitRateBps: number;
  dataBitRateBps?: number | undefined;
  note?: string | undefined;
}

export interface DossierUnit {
  name: string;
  role: 'host' | 'donor' | 'gateway' | 'controller';
  part: string;
  buses: string[];
  note?: string | undefined;
}

/** As in `budget/1`. */
export interface DossierBudget {
  channels: {
    channel: string;
    quantity: string;
    unit: string;
    rateUnit: string;
    rows: BudgetRow[];
  }[];
  /** Channels without a budget, and why. */
  missing: { channel: string; why: string }[];
}

/** In the unit of its channel, and per second. */
export interface BudgetRow {
  speedMps: number;
  levelMax: number;
  slewMax: number;
  level: number;
  slew: number;
}

export interface DossierProof {
  /** Hash of the program that was proved. */
  hash: string;
  at: string;
  /** The guard of today is another program. */
  stale: boolean;
  /** Verdicts kept from an earlier proof. */
  remembered?: number | undefined;
  /** How sharp the obligations are: of `mutants` changed guards so many … */
  strength?:
    | { mutants: number; refuted: number; equivalent: number; undecided: number; seed: number }
    | undefined;
  obligations: DossierObligation[];
}

export interface DossierObligation {
  name: string;
  sentence: string;
  status: 'proved' | 'failed' | 'notShown' | 'vacuous';
  note: string;
}

export interface DossierCounterexample {
  obligation: string;
  sentence: string;
  stepMs: number;
  brokenAtStep: number;
  columns: { name: string; kind: 'input' | 'state' | 'value' | 'output'; values: number[] }[];
}

export interface DossierFile {
  /** Path relative to the build. */
  file: string;
  /** What it is: "text file", "capture", "proof". */
  what: string;
  bytes: number;
  sha256: string;
}
