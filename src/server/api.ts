/**
 * The contract between the server and the pages: what each address takes and gives. Types only.
 *
 * Every reply is JSON unless said otherwise; an error is an `ErrorReply` with status 4xx or 5xx. Identifiers travel as in
 * `findings/1`: upper-case hex, 3 digits for 11 bits and 8 for 29 bits, with `ext` 0 or 1. Bits are AUTOSAR numbers.
 * A write (POST) needs the header `x-bywright-token` with the token that the served page carries in
 * `<meta name="bywright-token" content="…">`, and `content-type: application/json`; only a recording comes as
 * `application/octet-stream`.
 */
import type { KeptProof as Kept } from '../build/evidence.ts';
import type { ListeningStatus } from '../build/listen/index.ts';
import type { BuildFile, Bus, Problem, Unit } from '../build/model.ts';
import type { GuardPlan } from '../guard/model.ts';
import type { CaptureFileSummary } from './api/captures.ts';

export type * from './api/captures.ts';
export type * from './api/messages.ts';

export const TOKEN_HEADER = 'x-bywright-token';
export const TOKEN_META = 'bywright-token';

export interface ErrorReply {
  /** One sentence: what, where, what would be right. */
  error: string;
  /** Where the cause is something in the build's files. */
  problems?: Problem[];
}

/** `GET /api/build` */
export interface BuildReply {
  /** Name of the folder (its last part), also when nothing in it can be read. */
  name: string;
  /** Absolute path of the folder. */
  folder: string;
  /** SHA-256 over the build's text files, hex; changes whenever one of them does. */
  revision: string;
  /** null when `build.yaml`, `buses.yaml` or `units.yaml` cannot be read; `problems` then says why. */
  build: {
    title: string;
    note: string | null;
    stage: BuildFile['stage'];
    host: BuildFile['host'];
    buses: Bus[];
    units: Unit[];
    dictionaries: DictionarySummary[];
    cueSheets: { capture: string; cues: string[] }[];
    hasGuard: boolean;
    hasBridge: boolean;
  } | null;
  problems: Problem[];
  captures: CaptureFileSummary[];
  /** Counts of the kept proof; null when nothing was proved yet. `stale`: guard or dictionary changed since. */
  proof: { proved: number; failed: number; notShown: number; vacuous: number; stale: boolean } | null;
}

export interface DictionarySummary {
  bus: string;
  messages: number;
  /** Signals by state. */
  accepted: number;
  proposed: number;
  rejected: number;
  counters: number;
  checks: number;
}

/** `GET /api/guard` */
export interface GuardReply {
  /** null where the build has no readable `guard.yaml`. */
  plan: GuardPlan | null;
  /** Step of the gateway, milliseconds. */
  stepMs: number;
  problems: Problem[];
  /** null where there is no plan; `budgetError` says why it could not be computed. */
  budget: BudgetForm | null;
  budgetError: string | null;
  proof: ProofForm | null;
  /** Today's program differs from the one that was proved. */
  proofStale: boolean;
}

/** `budget/1` */
export interface BudgetForm {
  form: 'budget/1';
  channels: {
    channel: 'steering' | 'braking' | 'drive';
    /** "angle of the steering wheel" */
    quantity: string;
    unit: string;
    rateUnit: string;
    /** In `unit` and `rateUnit`. */
    rows: {
      speedMps: number;
      /** Largest level and slew that vehicle dynamics and reaction time allow at this speed. */
      levelMax: number;
      slewMax: number;
      /** What the guard's tables allow at this speed. */
      level: number;
      slew: number;
      /** Share of the budget that the tables leave unused, of whichever is closer; negative: over the budget. */
      margin: number;
    }[];
  }[];
  /** Channels without a budget, and why. */
  missing: { channel: string; why: string }[];
}

export type ObligationStatus = ProofForm['obligations'][number]['status'];

/** `proof/1`, kept as `evidence/proof.json` in the build. */
export type ProofForm = Kept['form'];

/** `GET /api/evidence/:file` of a play-back: one column per value over the steps from switching on. */
export type { CounterexampleForm } from '../build/evidence.ts';

/** `POST /api/prove` (empty object as body), and findings that are not worked out yet: 202. */
export interface JobReply {
  job: Job;
}

/** `GET /api/jobs`: all jobs since the server started, newest first. */
export interface JobsReply {
  jobs: Job[];
}

export interface Job {
  id: string;
  kind: 'findings' | 'relations' | 'cues' | 'retest' | 'proof' | 'reading';
  /** Capture file name ("*": all together), "guard" or "dictionary". */
  subject: string;
  state: 'running' | 'done' | 'failed' | 'cancelled';
  /** 0 … 1. */
  fraction: number;
  /** What it is at: "check fields, message 17 of 60". */
  note: string;
  /** One sentence when failed, otherwise null. */
  error: string | null;
}

/** `POST /api/cancel/:job` → 200 with the job as it then stands. */
export type CancelReply = JobReply;

/**
 * `GET /api/events`: server-sent events, their data one JSON object a line.
 * `job`: a `Job` whenever it starts, moves or ends; `changed`: the build's files changed; `hello`: once at the start;
 * `listening`: what is being recorded, once a second while anything is, and once with an empty list when that is over.
 * The revision of an event differs whenever any file of the build does, captures and evidence included; compare it with
 * that of another event, not with the one in `BuildReply`.
 */
export type ServerEvent =
  | { event: 'hello'; data: { revision: string } }
  | { event: 'changed'; data: { revision: string } }
  | { event: 'job'; data: Job }
  | { event: 'listening'; data: { recordings: ListeningStatus[] } };

/** Ties between signals, what followed cues, other cuts of a field; each form names its address. */
export type { CutsReply } from './views/cuts.ts';
/** Reference channels of a capture; each form names its address. */
export type { AcceptClockRequest, AlignmentReply, Curve, ReferencesReply } from './views/references.ts';
export type { FollowersReply, RelationsReply, TiedSignal } from './views/ties.ts';

/** `GET /api/retest`: accepted entries held against every capture; 200 with this, or 202 with a `JobReply`. */
export interface RetestReply {
  captures: string[];
  left: { name: string; why: string }[];
  contradictions: {
    bus: string;
    id: string;
    ext: 0 | 1;
    message: string;
    field: 'signal' | 'counter' | 'check' | 'message';
    /** Name of the signal; empty for the others. */
    name: string;
    place: { start: number; length: number; selectorValue: number | null } | null;
    capture: string;
    text: string;
  }[];
}

/** `GET /api/dossier` gives the dossier as text/html, one self-contained file. */
export type DossierReply = string;
