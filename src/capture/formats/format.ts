/** The shape that every recording format has: how it is recognised, read piece by piece, and written. */
import type { Capture, CaptureBuilder } from '../store.ts';

export interface CaptureFormat {
  /** The word that the user types and that results carry. */
  readonly name: string;
  /** What it is, in a few words for lists. */
  readonly words: string;
  /** File name endings that choose this format for writing; reading goes by content alone. */
  readonly extensions: readonly string[];
  /** Ways in which a file can be packed inside, where there are any. */
  readonly packings?: readonly Packing[];
  /** Whether a recording that starts with `head` (up to 64 KiB) is of this format. */
  recognises(head: Uint8Array): boolean;
  /** A reader that appends to `into`. */
  open(into: CaptureBuilder, options?: ReadOptions): CaptureReader;
  /** What a recording of this format does not hold of `capture`, one sentence each; absent where it holds everything. */
  lost?(capture: Capture): string[];
  /**
   * The bytes of a recording that holds `capture`, piece by piece.
   * @throws CaptureError at once where the format cannot hold a frame of the capture
   */
  write?(capture: Capture, options?: WriteOptions): Generator<Uint8Array, void, undefined>;
}

/** Takes a recording in pieces of any size, as a file or a live stream gives them. */
export interface CaptureReader {
  /**
   * Reads one piece; it is not kept after the call.
   * @throws CaptureError where the recording cannot be understood from here on
   */
  push(piece: Uint8Array): void;
  /**
   * Says that nothing more comes.
   * @throws CaptureError where what came is not a recording
   */
  end(): void;
  /** `end` in steps, in readers that do most of their work there; each step gives the share that is done, 0–1. */
  ending?(): Generator<number, void, undefined>;
  /** One line: what was recognised or inferred. Complete after `end`. */
  readonly guess: string;
  /** What was kept and what was not, one sentence each. Complete after `end`. */
  readonly notes: readonly string[];
}

export interface ReadOptions {
  /** Text only: the columns in order instead of the inferred ones, as in "time,bus,id,ext,data" (see text/columns.ts). */
  columns?: string | undefined;
}

/** How a file that can be packed inside is packed: not, by deflate, or by deflate column by column. */
export const PACKINGS = ['none', 'deflate', 'transposed'] as const;
export type Packing = (typeof PACKINGS)[number];

export interface WriteOptions {
  /** Called before each piece with the number of frames that are in the pieces so far. */
  onFrames?: ((frames: number) => void) | undefined;
  /** For formats with `packings`; default: none. */
  packing?: Packing | undefined;
}
