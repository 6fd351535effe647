/** What addresses about recordings take and give: the list, one recording, what was sent and waits, time axis, cues. */
import type { Cue, CueChange } from '../../build/cueEdit.ts';
import type { Problem } from '../../build/model.ts';
import type { TextPreview } from '../../capture/text/preview.ts';

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

export type { Cue, CueChange } from '../../build/cueEdit.ts';
