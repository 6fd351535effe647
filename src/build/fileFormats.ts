/** Formats of recordings that are read and written as whole files, not piece by piece. One more is one more line. */
import type { Capture } from '../capture/store.ts';
import type { CaptureRead, CaptureReadOptions, CaptureWriteOptions } from './captureFile.ts';
import { parquet } from './parquet/parquetFile.ts';

export interface FileFormat {
  /** The word that the user types and that results carry. */
  readonly name: string;
  /** What it is, in a few words for lists. */
  readonly words: string;
  /** File name endings that choose this format for writing; reading goes by content alone. */
  readonly extensions: readonly string[];
  /** Whether a file that starts with `head` is of this format. */
  recognises(head: Uint8Array): boolean;
  /** @throws CaptureError where the file cannot be read */
  read(path: string, options: CaptureReadOptions): Promise<CaptureRead>;
  /** Writes to `path`, which nobody looks at before it is whole. */
  write(path: string, capture: Capture, options?: CaptureWriteOptions): Promise<void>;
}

export const FILE_FORMATS: readonly FileFormat[] = [parquet];
