/** What a recording is asked for, tells while it runs, and is in the end. */
import type { Readable } from 'node:stream';
import type { LiveSummary } from '../../capture/live/summary.ts';
import type { RecordingDisk } from './recording.ts';

export interface ListenOptions {
  /** Name of the recording without ending; default: by local time. */
  name?: string | undefined;
  /** Bus number of a pcap stream, which does not say it; default 0. */
  bus?: number | undefined;
  /** Ends after this many seconds of listening. */
  seconds?: number | undefined;
  /** What is read for the source "standard input". */
  input: Readable;
  /** Cue names by the key that starts and ends them; the space bar ends all. */
  cues?: ReadonlyMap<string, string> | undefined;
  /** Ends the recording; what has been sent by then is taken in. */
  signal: AbortSignal;
  /** Hears one sentence whenever something happens that a person should know. */
  tell(text: string): void;
  /** Called about once a second. */
  onSecond?: ((state: ListenState) => void) | undefined;
  disk?: RecordingDisk | undefined;
  /** A silence from this many seconds on is told; default 3. */
  stallS?: number | undefined;
}

export interface ListenState {
  /** File name in `captures/`. */
  name: string;
  summary: LiveSummary;
  /** Seconds of listening. */
  elapsedS: number;
  /** Seconds since the last bytes came, or since the start. */
  quietS: number;
  openCues: string[];
  cues: number;
}

export interface Listened {
  name: string;
  frames: number;
  /** From the earliest to the latest stamp; null where the clock of the stream went back meanwhile. */
  seconds: number | null;
  bytes: number;
  /** Why it ended. */
  ended: 'end of stream' | 'on request' | 'time is up' | 'the disk refuses';
  /** Bytes of the stream that were left out. */
  lost: number;
  /** All that was told and concerns what was kept. */
  notes: string[];
  /** Path in the build; null where no cue was pressed. */
  cueSheet: string | null;
  cues: number;
}
