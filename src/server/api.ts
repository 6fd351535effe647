/**
 * The contract between the server and the pages: what each address takes and gives. Types only.
 *
 * Every reply is JSON unless said otherwise; an error is an `ErrorReply` with status 4xx or 5xx. Identifiers travel as in
 * `findings/1`: upper-case hex, 3 digits for 11 bits and 8 for 29 bits, with `ext` 0 or 1. Bits are AUTOSAR numbers.
 * A write (POST) needs the header `x-bywright-token` with the token that the served page carries in
 * `<meta name="bywright-token" content="…">`, and `content-type: application/json`; only a recording comes as
 * `application/octet-stream`.
 */
import type { Cue, CueChange } from '../build/cueEdit.ts';
import type { KeptProof as Kept } from '../build/evidence.ts';
import type { ListeningStatus } from '../build/listen/index.ts';
import type { BuildFile, Bus, Problem, Unit } from '../build/model.ts';
import type { TextPreview } from '../capture/text/preview.ts';
import type { Dictionary, StoredEvidence } from '../dictionary/model.ts';
import type { Evidence } from '../findings/model.ts';
import type { GuardPlan } from '../guard/model.ts';

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

export interface CaptureFileSummary {
  /** File name in `captures/`; put through encodeURIComponent where it stands in an address. */
  name: string;
  bytes: number;
  /** Time of last change, ISO 8601 UTC. */
  changed: string;
}

/** `GET /api/captures/:name` */
export interface CaptureReply {
  name: string;
  bytes: number;
  /** SHA-256 of the file, hex. */
  hash: string;
  frames: number;
  /** From the earliest to the latest frame. */
  seconds: number;
  /** Time of the first frame, ISO 8601 UTC with microseconds; null where the recording holds relative time only. */
  origin: string | null;
  /** Format in words and how it was told: "pcapng", "text: 5 columns, time in seconds, …". */
  format: string;
  /** What the reader noticed: cut short, frames skipped, time running backwards. */
  notes: string[];
  buses: { bus: number; name: string | null; bitRateBps: number | null; frames: number; messages: number }[];
  messages: MessageSummary[];
}

export interface MessageSummary {
  bus: number;
  /** Name from `buses.yaml`; null where no bus has this number. */
  busName: string | null;
  id: string;
  ext: 0 | 1;
  /** Payload length in bytes; the commonest where it varies. */
  length: number;
  frames: number;
  /** null where it is not sent periodically, or too few frames tell. */
  periodMs: number | null;
  /** Median absolute deviation of the gaps, scaled to a standard deviation; null where too few frames tell. */
  jitterMs: number | null;
  /** First payload in hex, two digits a byte. */
  firstPayload: string;
  /** Its name where the dictionary of the bus has it. */
  dictionaryName: string | null;
}

/** `GET /api/captures/:name/load?bins=300` */
export interface LoadReply {
  /** Width of a bin in seconds; bin i covers start + i × binSeconds onward. */
  binSeconds: number;
  start: number;
  buses: {
    bus: number;
    name: string | null;
    bitRateBps: number | null;
    /** Frames in each bin. */
    frames: number[];
    /** Bits per second in each bin, with stuff bits and interframe space. */
    bitsPerSecond: number[];
  }[];
}

/** `GET /api/incoming`: recordings that a page sent and that wait to be accepted or refused. */
export interface IncomingReply {
  waiting: IncomingFile[];
  /** Larger recordings are not taken over a page. */
  largestBytes: number;
  /** What the disk of the build has left; null where it does not tell. */
  freeBytes: number | null;
}

/** `POST /api/incoming?name=drive.csv` with the bytes of the file as body → 201 with this. */
export interface IncomingFile {
  id: string;
  /** Name that the file had. */
  name: string;
  bytes: number;
}

/** `GET /api/incoming/:id`, `GET /api/incoming/:id?columns=time,bus,id,ext,data`: 200 with this, or 202 with a `JobReply` while it is read. */
export interface IncomingReading {
  file: IncomingFile;
  /** What it holds; null where it could not be read, `error` then says why. */
  read: {
    format: string;
    guess: string;
    notes: string[];
    frames: number;
    seconds: number;
    /** Time of the first frame, ISO 8601 UTC; null where the recording holds relative time only. */
    origin: string | null;
    /** `ids` are the first few of `messages` identifiers. */
    buses: { bus: number; name: string | null; frames: number; messages: number; ids: string[] }[];
  } | null;
  error: string | null;
  /** For text, also where it could not be read: how the first lines were read by the inferred and the named columns. */
  text: TextPreview | null;
  /** How it would be kept; null where it could not be read. */
  keep: {
    name: string;
    /** The same name where it is free, else one like it that is. */
    free: string;
    form: 'asItIs' | 'pcapng';
    /** The recording of `captures/` with the same bytes. */
    sameAs: string | null;
  } | null;
}

/** `POST /api/incoming/:id/accept` → 201 `{ name }`; `columns` as in the reading that was looked at. */
export interface IncomingAccept {
  name: string;
  columns?: string;
}

/** `POST /api/incoming/:id/refuse` (empty object as body) → 200 `IncomingReply`; what was sent is deleted. */

/** A bracket under the payload strip, in `findings/1` words. */
export interface FoundSignalForm {
  start: number;
  length: number;
  byteOrder: 'little' | 'big';
  signed: boolean | 'magnitude';
  kind: 'number' | 'flag' | 'enum' | 'constant' | 'counter' | 'check' | 'selector' | 'padding';
  scale: number;
  offset: number;
  unit: string;
  selectorValue: number | null;
  probability: number;
}

/** A finding, keyed for accept and reject by where it stands. */
export interface FindingKey {
  id: string;
  ext: 0 | 1;
  field: 'signal' | 'counter' | 'check' | 'selector';
  start: number;
  length: number;
  /** Of a signal behind a selector; otherwise null. */
  selectorValue: number | null;
}

export interface FindingsMessageReply {
  bus: number;
  busName: string | null;
  id: string;
  ext: 0 | 1;
  length: number;
  frames: number;
  periodMs: number | null;
  jitterMs: number | null;
  timing: 'periodic' | 'onChange' | 'mixed' | 'burst' | 'tooFew';
  /** Frames missing by the gaps, an estimate; null where it is not periodic. */
  missing: number | null;
  /** Messages of one number are sent from one clock, `size` of them; `group` is null where the stamps do not tell, `reason` says why. */
  sender: { group: number | null; size: number; probability: number | null; reason: string | null };
  /** From the dictionary; null where nobody has named it. */
  name: string | null;
  /** Share of frames in which each bit differs from the frame before; index = 8 × byte + bit, 8 × length of them. */
  flipRate: number[];
  signals: (FoundSignalForm & { evidence: Evidence[]; state: FindingState })[];
  counter:
    | (FieldPlace & {
        step: number;
        skip: number[];
        probability: number;
        evidence: Evidence[];
        state: FindingState;
      })
    | null;
  check:
    | (FieldPlace & {
        algorithm: 'crc' | 'xor' | 'sum' | 'sumComplement' | 'nibbleSum';
        width: number;
        /** Hex with 0x. */
        poly: string;
        init: string;
        xorout: string;
        reflected: boolean;
        covers: number[];
        prefix: string;
        suffix: string;
        idBytes: number[];
        perCounter: number[] | null;
        /** Name in a published standard where the parameters equal one, otherwise empty. */
        standard: string;
        probability: number;
        evidence: Evidence[];
        state: FindingState;
      })
    | null;
  selector: (FieldPlace & { state: FindingState }) | null;
  /** What could not be decided and which recording would decide it. */
  open: string[];
}

export interface FieldPlace {
  start: number;
  length: number;
  byteOrder: 'little' | 'big';
}

/** What the dictionary says of a finding today. `open`: nothing yet. */
export type FindingState = 'open' | 'proposed' | 'accepted' | 'rejected';

/** `GET /api/captures/:name/findings` (`*`: all captures of the build together): 200 with this when worked out, otherwise 202 with a `JobReply`; ask again when its job is done. */
export interface FindingsReply {
  capture: string;
  /** SHA-256 of the capture file, hex. */
  hash: string;
  frames: number;
  seconds: number;
  /** How many units send what could be placed: 5 %, 50 % and 95 %. */
  units: { low: number; likely: number; high: number } | null;
  messages: FindingsMessageReply[];
  /** The same as `bywright find --json` prints (form findings/1), for saving. */
  form: unknown;
}

/**
 * `GET /api/captures/:name/series?bus=0&id=1A2&ext=0&start=0&length=12&byteOrder=little&signed=false&points=800`
 *
 * `signed`: false, true or magnitude. Optional `from` and `to` in seconds, and `selector=start:length:byteOrder:value` to
 * read only frames whose selector has that value. Raw values; multiply by scale and add offset for physical ones.
 * At most `points` bins of equal time (10 … 4000); each bin that holds frames gives one entry.
 */
export interface SeriesReply {
  frames: number;
  /** Middle of each bin in seconds, and the least and greatest raw value in it. Equal-length arrays. */
  time: number[];
  low: number[];
  high: number[];
}

/**
 * `GET /api/captures/:name/overview?from=0&to=60&pixels=1000&frames=0`: packed columns (`capture/overview/packed.ts`), this
 * as their head. Without `from` and `to` the whole recording. Per bus the columns `mean 0`, `low 0`, `high 0` of Float32: frames per
 * second in cells of `cellS`, the first beginning at `start`; `low` and `high` are those of the finest cells within. Where the stretch
 * holds at most `frames` frames (up to 4000), also the columns of `FrameWindow`.
 */
export interface OverviewHead {
  /** Earliest and latest frame of the recording, seconds. */
  first: number;
  last: number;
  from: number;
  to: number;
  /** Frames in the stretch. */
  count: number;
  hasFrames: boolean;
  start: number;
  cellS: number;
  /** Width of the finest cells that there are, seconds. */
  finestS: number;
  buses: { bus: number; name: string | null; frames: number }[];
}

/**
 * `GET /api/captures/:name/lane?bus=0&id=1A2&ext=0&start=0&length=12&byteOrder=little&signed=false&from=0&to=60&pixels=1000`:
 * one field over a stretch, asked as in `SeriesReply`, as packed columns of Float64 with this as their head: `time` and `value` of
 * single frames with one more on either side, or `low` and `high` of `pixels` cells of `cellS`, NaN where a cell has no frame.
 */
export type LaneHead = {
  from: number;
  to: number;
  /** Of the whole recording: frames that have the field, and the least and greatest raw value; null without a frame. */
  frames: number;
  range: { low: number; high: number } | null;
} & ({ kind: 'single' } | { kind: 'cells'; start: number; cellS: number });

/** `GET /api/captures/:name/cues`, and the reply to every change of them. */
export interface CuesReply {
  capture: string;
  /** The YAML sheets that name this capture. */
  sheets: {
    file: string;
    /** SHA-256 of the file, hex. */
    hash: string;
    cues: Cue[];
    /** Places of cues of one name of which the later begins while the earlier lasts. */
    overlaps: { earlier: number; later: number }[];
  }[];
  /** Cues of this capture from sheets in other forms, which are changed where they were made. */
  fixed: Cue[];
  /** Where a first sheet would be written. */
  newFile: string;
  problems: Problem[];
  /** Changes that `POST /api/captures/:name/cues/undo` (empty object as body) can take back. */
  undo: number;
}

/** `POST /api/captures/:name/cues`; refused with 409 where the file no longer has this hash. */
export interface CueChangeRequest {
  file: string;
  /** Of the file as the page knows it; null for a sheet that is not there yet. */
  hash: string | null;
  change: CueChange;
}

export type { Cue, CueChange } from '../build/cueEdit.ts';

/** `GET /api/dictionary/:bus`, and the reply to accept, reject, edit, reopen and undo. */
export interface DictionaryReply {
  bus: string;
  /** SHA-256 of `dictionary/<bus>.yaml`, hex; empty where there is no file yet. */
  hash: string;
  /** null where there is no file yet or it cannot be read. */
  dictionary: Dictionary | null;
  problems: Problem[];
  /** Changes of this dictionary that `POST /api/dictionary/:bus/undo` (empty object as body) can take back. */
  undo: number;
}

/** `POST /api/dictionary/:bus/accept`: the finding at `key` of this capture goes into the dictionary, its evidence beside it. */
export interface AcceptRequest {
  capture: string;
  key: FindingKey;
  /** Name of the signal; needed for a signal, unused for counter, check and selector. */
  name?: string;
  /** Name of the message where the dictionary does not have it yet; without it "message_<id>". */
  messageName?: string;
  /** Corrections of the person; whatever is left out comes from the finding. */
  scale?: number;
  offset?: number;
  unit?: string;
  note?: string;
  /** Another cut than the one found. */
  cut?: FieldPlace & { signed: boolean | 'magnitude' };
}

/** A signal of the dictionary by where it stands. */
export interface EntryPlace {
  id: string;
  ext: 0 | 1;
  start: number;
  length: number;
  selectorValue: number | null;
}

/** `POST /api/dictionary/:bus/edit`: an entry put right; what is left out stays. Its evidence stays beside it. */
export interface EditRequest {
  place: EntryPlace;
  change: {
    name?: string;
    unit?: string;
    scale?: number;
    offset?: number;
    min?: number;
    max?: number;
    note?: string;
  } & Partial<FieldPlace & { signed: boolean | 'magnitude' }>;
}

/** `POST /api/dictionary/:bus/turn-down`: an entry is rejected that this capture does not find. */
export interface TurnDownRequest {
  place: EntryPlace;
  reason?: string;
}

/** `POST /api/dictionary/:bus/reopen`: a rejection is taken back; the finding may be proposed again. */
export interface ReopenRequest {
  place: EntryPlace;
}

/** `POST /api/dictionary/:bus/reject`: the finding is kept as rejected, with the reason, so that no capture proposes it again. */
export interface RejectRequest {
  capture: string;
  key: FindingKey;
  reason?: string;
}

/** Evidence as it stands in the dictionary file. */
export type KeptEvidence = StoredEvidence;

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
