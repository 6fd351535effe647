/** The first 64 bytes of a file: what it is, which version, and whether it was finished. */
import { hexBytes } from '../bytes.ts';
import { CaptureError } from '../error.ts';
import { FIRST_BLOCK } from './blocks.ts';
import type { Ending } from './dataBlocks.ts';
import type { Pages } from './pages.ts';

/** Of a finished and of an unfinished file. */
export const MAGICS = ['MDF     ', 'UnFinMF '] as const;

/** The identification block: "MDF     " or "UnFinMF ", and the version at 28. */
export function identification(pages: Pages): { version: number; ending: Ending } {
  if (pages.length === 0) throw new CaptureError('The recording is empty: 0 bytes.');
  const head = pages.bytes(0, Math.min(FIRST_BLOCK, pages.length));
  const magic = String.fromCharCode(...head.subarray(0, 8));
  if (!MAGICS.some((known) => known.startsWith(magic))) {
    throw new CaptureError(
      `This is not MDF: it starts with ${hexBytes(head.subarray(0, 8))} at byte 0; right would be 4D 44 46 20 20 20 20 20 ("MDF     ").`,
    );
  }
  if (head.length < FIRST_BLOCK) {
    throw new CaptureError(
      `The MDF identification is cut short: it has 64 bytes and the recording ends after ${head.length}.`,
    );
  }
  const version = (head[28] as number) | ((head[29] as number) << 8);
  if (version < 400 || version >= 500) {
    throw new CaptureError(
      `This is MDF of version ${(version / 100).toFixed(2)}; right would be 4.00 or a later 4.x, which recorders and converters can write.`,
    );
  }
  return { version, ending: magic === MAGICS[1] ? 'unfinalised' : 'finalised' };
}
