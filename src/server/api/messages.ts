/** What addresses about messages take and give: findings, and the dictionary that they are accepted into. */
import type { Problem } from '../../build/model.ts';
import type { Dictionary, StoredEvidence } from '../../dictionary/model.ts';
import type { Evidence } from '../../findings/model.ts';

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
