/** Counters of all messages of a capture by findings, as the health report takes them. */
import { idKey } from '../can/frame.ts';
import type { CounterPlace } from '../capture/health.ts';
import { groupByMessage, type MessageFrames } from '../capture/select.ts';
import type { Capture } from '../capture/store.ts';
import { type FoundCounter, findCounters, messageRows, sessionsOf, timingOf } from '../findings/index.ts';

/** Frames of a message that are looked at: a counter shows long before. */
const ENOUGH = 5000;
/** Below this a field is no counter that losses may be counted by. */
const SURE = 0.9;

/**
 * Where two units send under one identifier no counter fits the whole; it is looked for in the first and the last third,
 * where perhaps only one of them sends, and then in every second frame.
 */
export function countersIn(capture: Capture, onProgress: (share: number) => void): CounterPlace[] {
  const sessions = sessionsOf(capture);
  const groups = groupByMessage(capture);
  return groups.flatMap((group, at) => {
    onProgress(at / groups.length);
    const { frames } = group;
    const third = Math.floor(frames.length / 3);
    const parts = [
      frames.subarray(0, ENOUGH),
      frames.subarray(0, Math.min(third, ENOUGH)),
      frames.subarray(frames.length - Math.min(third, ENOUGH)),
      frames.subarray(0, 2 * ENOUGH).filter((_, k) => k % 2 === 0),
    ];
    for (const part of parts) {
      const found = counterOf(capture, { ...group, frames: part }, sessions);
      if (!found) continue;
      const { start, length, byteOrder, step, skip } = found;
      return [
        {
          bus: group.bus,
          idKey: idKey(group.id, group.extended ? 1 : 0),
          start,
          length,
          byteOrder,
          step,
          skip,
        },
      ];
    }
    return [];
  });
}

function counterOf(capture: Capture, group: MessageFrames, sessions: Uint32Array): FoundCounter | null {
  if (group.frames.length < 16) return null;
  const rows = messageRows(capture, group, sessions);
  if (rows.length === 0) return null;
  const { timing, periodMs } = timingOf(rows.time, rows.begins);
  const periodS = timing === 'periodic' && periodMs !== null ? periodMs / 1000 : null;
  const [first] = findCounters(rows, { periodS, taken: new Uint8Array(8 * rows.length) });
  return first && first.probability >= SURE ? first : null;
}
