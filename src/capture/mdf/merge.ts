/** Frames of several data groups put into one recording: by their place where the file holds it, else by time. */
import { storedLength } from '../select.ts';
import type { Capture, CaptureBuilder } from '../store.ts';

export interface Part {
  capture: Capture;
  /** Place of each frame in the recording; null where the group does not hold it. */
  order: Uint32Array | null;
}

/**
 * Appends the frames of all parts. Each part keeps its own order; between parts the frame with the lesser key goes first,
 * at equal keys that of the earlier part.
 */
export function mergeParts(into: CaptureBuilder, parts: readonly Part[]): void {
  const filled = parts.filter((part) => part.capture.count > 0);
  const keys = filled.every((part) => part.order !== null)
    ? filled.map((part) => part.order as Uint32Array)
    : filled.map((part) => part.capture.time);
  const next = filled.map(() => 0);
  const total = filled.reduce((sum, part) => sum + part.capture.count, 0);
  for (let n = 0; n < total; n++) {
    let least = -1;
    let key = Number.POSITIVE_INFINITY;
    for (let k = 0; k < filled.length; k++) {
      const at = next[k] as number;
      const own = (keys[k] as Float64Array)[at];
      if (at === (filled[k] as Part).capture.count || own === undefined) continue;
      if (least < 0 || own < key) {
        least = k;
        key = own;
      }
    }
    const { capture } = filled[least] as Part;
    const i = next[least] as number;
    next[least] = i + 1;
    into.add(
      capture.time[i] as number,
      capture.bus[i] as number,
      capture.id[i] as number,
      capture.flags[i] as number,
      capture.length[i] as number,
      capture.payload,
      capture.offset[i] as number,
      storedLength(capture, i),
    );
  }
}
